ALTER TABLE lesson_record DROP COLUMN aside_v;
