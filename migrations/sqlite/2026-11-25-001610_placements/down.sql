DROP TABLE placement;
