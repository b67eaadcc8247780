DROP TABLE pupil_upn;
DROP TABLE file_heading;
ALTER TABLE roster_import DROP COLUMN before;
ALTER TABLE roster_import DROP COLUMN answers;
