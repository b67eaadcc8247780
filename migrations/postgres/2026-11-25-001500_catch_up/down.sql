DROP TABLE catch_up_pupil;
DROP TABLE catch_up;
