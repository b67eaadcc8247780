-- Sequence proposals: asked for, worked off by a server, kept with what came of them.
CREATE TABLE sequence_proposal (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    status TEXT COLLATE "C" NOT NULL,
    constraints JSON NOT NULL,
    created_by UUID NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    -- The step being filled, and when the server that works on it last said so.
    step INTEGER NOT NULL,
    alive_at TIMESTAMPTZ NOT NULL,
    finished_at TIMESTAMPTZ,
    result JSON,
    problem TEXT COLLATE "C",
    PRIMARY KEY (school_id, id)
);
