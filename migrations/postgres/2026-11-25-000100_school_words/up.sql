-- What a school counts as taught, and the version at which its words last changed.
CREATE TABLE school_phonics (
    school_id UUID NOT NULL REFERENCES school (id),
    policy JSON NOT NULL,
    words_v BIGINT NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id)
);

-- Words a school adds to the lexicon, or reads in its own way.
CREATE TABLE school_word (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    word TEXT COLLATE "C" NOT NULL,
    word_key TEXT COLLATE "C" NOT NULL,
    readings JSON NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, word_key)
);

-- Words and pseudo-words a school never shows to children.
CREATE TABLE struck_word (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    word TEXT COLLATE "C" NOT NULL,
    word_key TEXT COLLATE "C" NOT NULL,
    struck_by UUID NOT NULL,
    struck_at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, word_key)
);

-- Pseudo-words made for a check, and who approved them.
CREATE TABLE pseudo_word_set (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    words JSON NOT NULL,
    made_by UUID NOT NULL,
    made_at TIMESTAMPTZ NOT NULL,
    approved_by UUID,
    approved_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id)
);
