DROP TABLE trust_file;
DROP TABLE trust_school;
DROP TABLE trust_share;
