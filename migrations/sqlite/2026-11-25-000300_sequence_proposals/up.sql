-- Sequence proposals: asked for, worked off by a server, kept with what came of them.
CREATE TABLE sequence_proposal (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16) REFERENCES school (id),
    id BLOB NOT NULL CHECK (length(id) = 16),
    status TEXT NOT NULL,
    constraints TEXT NOT NULL CHECK (json_valid(constraints)),
    created_by BLOB NOT NULL CHECK (length(created_by) = 16),
    created_at INTEGER NOT NULL,
    -- The step being filled, and when the server that works on it last said so.
    step INTEGER NOT NULL,
    alive_at INTEGER NOT NULL,
    finished_at INTEGER,
    result TEXT CHECK (json_valid(result)),
    problem TEXT,
    PRIMARY KEY (school_id, id)
) STRICT;
