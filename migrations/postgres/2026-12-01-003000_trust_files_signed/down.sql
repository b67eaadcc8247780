ALTER TABLE trust_school DROP COLUMN v;
DROP TABLE trust_file_signed;
