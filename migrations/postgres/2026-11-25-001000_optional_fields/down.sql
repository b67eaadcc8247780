DROP TABLE pupil_field;
DROP TABLE optional_field;
