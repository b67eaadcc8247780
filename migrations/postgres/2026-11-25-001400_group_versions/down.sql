ALTER TABLE sequence_version DROP COLUMN withdrawn_note;
ALTER TABLE sequence_version DROP COLUMN withdrawn_on;
DROP TABLE group_version;
