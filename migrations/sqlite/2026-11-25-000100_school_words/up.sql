-- What a school counts as taught, and the version at which its words last changed.
CREATE TABLE school_phonics (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    policy TEXT NOT NULL CHECK (json_valid(policy)),
    words_v INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id)
) STRICT;

-- Words a school adds to the lexicon, or reads in its own way.
CREATE TABLE school_word (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    word TEXT NOT NULL,
    word_key TEXT NOT NULL,
    readings TEXT NOT NULL CHECK (json_valid(readings)),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, word_key)
) STRICT;

-- Words and pseudo-words a school never shows to children.
CREATE TABLE struck_word (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    word TEXT NOT NULL,
    word_key TEXT NOT NULL,
    struck_by BLOB NOT NULL CHECK (length(struck_by) = 16),
    struck_at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, word_key)
) STRICT;

-- Pseudo-words made for a check, and who approved them.
CREATE TABLE pseudo_word_set (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    words TEXT NOT NULL CHECK (json_valid(words)),
    made_by BLOB NOT NULL CHECK (length(made_by) = 16),
    made_at INTEGER NOT NULL,
    approved_by BLOB CHECK (length(approved_by) = 16),
    approved_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id)
) STRICT;
