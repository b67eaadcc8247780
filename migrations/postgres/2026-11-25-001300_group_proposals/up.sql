-- Proposals of teaching groups: what was asked, how groups and members stood then, what was proposed.
-- Pupils are named by id alone, and no row is kept beyond its time.
CREATE TABLE group_proposal (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    version_id UUID NOT NULL,
    as_of DATE NOT NULL,
    asked JSON NOT NULL,
    stood JSON NOT NULL,
    result JSON NOT NULL,
    figures JSON NOT NULL,
    created_by UUID NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    kept_until TIMESTAMPTZ NOT NULL,
    -- From which day on which groups are as proposed, once somebody said so.
    accepted JSON,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
);

CREATE INDEX group_proposal_kept_until ON group_proposal (kept_until);
