ALTER TABLE response DROP COLUMN reason;
DROP TABLE second_mark;
DROP TABLE second_sample;
DROP TABLE second_marking;
