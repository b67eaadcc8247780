-- What a school showed its trust, as it left; and, at the school where the trust's lead works, which schools the trust has
-- and what came of them as files.
CREATE TABLE trust_share (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    -- The school where the trust's lead works, which may be on another server.
    trust_id BLOB NOT NULL CHECK (length(trust_id) = 16),
    release_id BLOB NOT NULL CHECK (length(release_id) = 16),
    school_year INTEGER NOT NULL,
    half_term TEXT NOT NULL,
    body TEXT NOT NULL,
    shared_by BLOB NOT NULL CHECK (length(shared_by) = 16),
    shared_at INTEGER NOT NULL,
    withdrawn_by BLOB CHECK (length(withdrawn_by) = 16),
    withdrawn_at INTEGER,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, release_id) REFERENCES report_release (school_id, id)
) STRICT;

CREATE UNIQUE INDEX trust_share_standing ON trust_share (school_id, trust_id, school_year, half_term)
    WHERE withdrawn_at IS NULL;
CREATE INDEX trust_share_of_trust ON trust_share (trust_id, school_year);

CREATE TABLE trust_school (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    member_id BLOB NOT NULL CHECK (length(member_id) = 16),
    name TEXT NOT NULL,
    -- The key its server signs files with; none where it is on this server.
    file_key TEXT,
    added_by BLOB NOT NULL CHECK (length(added_by) = 16),
    added_at INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, member_id),
    FOREIGN KEY (school_id) REFERENCES school (id)
) STRICT;

CREATE TABLE trust_file (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    member_id BLOB NOT NULL CHECK (length(member_id) = 16),
    school_year INTEGER NOT NULL,
    half_term TEXT NOT NULL,
    body TEXT NOT NULL,
    taken_by BLOB NOT NULL CHECK (length(taken_by) = 16),
    taken_at INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, member_id, school_year, half_term),
    FOREIGN KEY (school_id, member_id) REFERENCES trust_school (school_id, member_id)
) STRICT;
