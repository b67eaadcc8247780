-- Pupils frozen for a report, under pseudonyms, until kept_until; and what was released of them, byte for byte, with
-- what later releases have to know of it.
CREATE TABLE report_snapshot (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    as_of TEXT NOT NULL CHECK (as_of IS date(as_of)),
    half_term TEXT NOT NULL,
    basis TEXT NOT NULL CHECK (json_valid(basis)),
    lines TEXT NOT NULL CHECK (json_valid(lines)),
    created_by BLOB NOT NULL CHECK (length(created_by) = 16),
    created_at INTEGER NOT NULL,
    kept_until INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id) REFERENCES school (id)
) STRICT;

CREATE TABLE report_release (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    snapshot_id BLOB NOT NULL CHECK (length(snapshot_id) = 16),
    audience TEXT NOT NULL,
    as_of TEXT NOT NULL CHECK (as_of IS date(as_of)),
    body TEXT NOT NULL,
    ledger TEXT NOT NULL CHECK (json_valid(ledger)),
    -- Until when the pseudonyms in the ledger are kept; none once they are dropped.
    ledger_until INTEGER,
    released_by BLOB NOT NULL CHECK (length(released_by) = 16),
    released_at INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id) REFERENCES school (id)
) STRICT;
