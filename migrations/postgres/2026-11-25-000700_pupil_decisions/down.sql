DROP TABLE pupil_decision;
