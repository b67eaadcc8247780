DROP TABLE rollover;
