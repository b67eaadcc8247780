-- The school's reading books. words: the running text, or the words one a line.
CREATE TABLE book (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    title TEXT NOT NULL,
    reference TEXT,
    source TEXT NOT NULL,
    words TEXT NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, reference)
) STRICT;
CREATE INDEX book_by_title ON book (school_id, title, id);
