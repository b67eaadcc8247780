DROP TABLE pace_plan;
