DROP INDEX check_version;
ALTER TABLE check_definition DROP COLUMN built;
ALTER TABLE check_definition DROP COLUMN version;
ALTER TABLE check_definition DROP COLUMN series_id;
