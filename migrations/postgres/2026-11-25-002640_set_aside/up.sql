-- The version at which something else was last recorded of a lesson and set aside, until somebody settles it.
ALTER TABLE lesson_record ADD COLUMN aside_v BIGINT;
