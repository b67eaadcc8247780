DROP TABLE pseudo_word_set;
DROP TABLE struck_word;
DROP TABLE school_word;
DROP TABLE school_phonics;
