ALTER TABLE response DROP COLUMN late;
ALTER TABLE response DROP COLUMN sitting_id;
DROP TABLE exemption;
DROP TABLE sitting;
ALTER TABLE check_round DROP COLUMN said_on;
ALTER TABLE check_round DROP COLUMN plan;
