DROP TABLE what_helped;
