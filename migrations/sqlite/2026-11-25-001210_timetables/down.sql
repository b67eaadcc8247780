DROP TABLE group_timetable;
