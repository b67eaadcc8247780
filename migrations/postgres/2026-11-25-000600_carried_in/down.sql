-- The lessons carried in do not come back as a starting point: they may be any.
ALTER TABLE teaching_group ADD COLUMN start_lesson_id UUID;
DROP TABLE carried_check;
DROP TABLE carried_in_pupil;
DROP TABLE carried_in;
