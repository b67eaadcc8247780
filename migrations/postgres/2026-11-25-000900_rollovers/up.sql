-- The change to a school year: what people said, what it would change as last shown, and once it is
-- applied, what an undo puts back.
CREATE TABLE rollover (
    school_id UUID NOT NULL REFERENCES school (id),
    year INTEGER NOT NULL,
    status TEXT COLLATE "C" NOT NULL,
    choices JSON NOT NULL,
    shown JSON NOT NULL,
    before JSON,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, year)
);
