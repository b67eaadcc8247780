-- Pupils frozen for a report, under pseudonyms, until kept_until; and what was released of them, byte for byte, with
-- what later releases have to know of it.
CREATE TABLE report_snapshot (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    as_of DATE NOT NULL,
    half_term TEXT COLLATE "C" NOT NULL,
    basis JSON NOT NULL,
    lines JSON NOT NULL,
    created_by UUID NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    kept_until TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id) REFERENCES school (id)
);

CREATE TABLE report_release (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    snapshot_id UUID NOT NULL,
    audience TEXT COLLATE "C" NOT NULL,
    as_of DATE NOT NULL,
    body TEXT COLLATE "C" NOT NULL,
    ledger JSON NOT NULL,
    -- Until when the pseudonyms in the ledger are kept; none once they are dropped.
    ledger_until TIMESTAMPTZ,
    released_by UUID NOT NULL,
    released_at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id) REFERENCES school (id)
);
