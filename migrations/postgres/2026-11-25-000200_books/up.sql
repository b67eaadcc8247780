-- The school's reading books. words: the running text, or the words one a line.
CREATE TABLE book (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    title TEXT COLLATE "C" NOT NULL,
    reference TEXT COLLATE "C",
    source TEXT COLLATE "C" NOT NULL,
    words TEXT COLLATE "C" NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, reference)
);
CREATE INDEX book_by_title ON book (school_id, title, id);
