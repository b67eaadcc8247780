DROP TABLE not_accessible;
DROP TABLE pupil_answering;
