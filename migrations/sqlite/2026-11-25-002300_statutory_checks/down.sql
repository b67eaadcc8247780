DROP TABLE earlier_statutory_result;
DROP TABLE statutory_threshold;
DROP TABLE statutory_result;
DROP TABLE statutory_window;
