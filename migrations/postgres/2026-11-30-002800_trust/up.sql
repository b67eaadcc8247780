-- What a school showed its trust, as it left; and, at the school where the trust's lead works, which schools the trust has
-- and what came of them as files.
CREATE TABLE trust_share (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    -- The school where the trust's lead works, which may be on another server.
    trust_id UUID NOT NULL,
    release_id UUID NOT NULL,
    school_year INTEGER NOT NULL,
    half_term TEXT COLLATE "C" NOT NULL,
    body TEXT COLLATE "C" NOT NULL,
    shared_by UUID NOT NULL,
    shared_at TIMESTAMPTZ NOT NULL,
    withdrawn_by UUID,
    withdrawn_at TIMESTAMPTZ,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, release_id) REFERENCES report_release (school_id, id)
);

CREATE UNIQUE INDEX trust_share_standing ON trust_share (school_id, trust_id, school_year, half_term)
    WHERE withdrawn_at IS NULL;
CREATE INDEX trust_share_of_trust ON trust_share (trust_id, school_year);

CREATE TABLE trust_school (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    member_id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    -- The key its server signs files with; none where it is on this server.
    file_key TEXT COLLATE "C",
    added_by UUID NOT NULL,
    added_at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, member_id),
    FOREIGN KEY (school_id) REFERENCES school (id)
);

CREATE TABLE trust_file (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    member_id UUID NOT NULL,
    school_year INTEGER NOT NULL,
    half_term TEXT COLLATE "C" NOT NULL,
    body TEXT COLLATE "C" NOT NULL,
    taken_by UUID NOT NULL,
    taken_at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, member_id, school_year, half_term),
    FOREIGN KEY (school_id, member_id) REFERENCES trust_school (school_id, member_id)
);
