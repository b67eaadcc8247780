-- The change to a school year: what people said, what it would change as last shown, and once it is
-- applied, what an undo puts back.
CREATE TABLE rollover (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    year INTEGER NOT NULL,
    status TEXT NOT NULL,
    choices TEXT NOT NULL CHECK (json_valid(choices)),
    shown TEXT NOT NULL CHECK (json_valid(shown)),
    before TEXT CHECK (json_valid(before)),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, year)
) STRICT;
