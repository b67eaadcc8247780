-- Proposals of teaching groups: what was asked, how groups and members stood then, what was proposed.
-- Pupils are named by id alone, and no row is kept beyond its time.
CREATE TABLE group_proposal (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    version_id BLOB NOT NULL CHECK (length(version_id) = 16),
    as_of TEXT NOT NULL CHECK (as_of IS date(as_of)),
    asked TEXT NOT NULL CHECK (json_valid(asked)),
    stood TEXT NOT NULL CHECK (json_valid(stood)),
    result TEXT NOT NULL CHECK (json_valid(result)),
    figures TEXT NOT NULL CHECK (json_valid(figures)),
    created_by BLOB NOT NULL CHECK (length(created_by) = 16),
    created_at INTEGER NOT NULL,
    kept_until INTEGER NOT NULL,
    -- From which day on which groups are as proposed, once somebody said so.
    accepted TEXT CHECK (json_valid(accepted)),
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
) STRICT;

CREATE INDEX group_proposal_kept_until ON group_proposal (kept_until);
