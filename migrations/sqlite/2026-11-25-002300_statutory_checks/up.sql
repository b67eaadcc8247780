-- The statutory check: windows, entries of results (never overwritten: of several for a pupil the latest is in force),
-- thresholds as published, and results from before the records here.
CREATE TABLE statutory_window (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    year INTEGER NOT NULL,
    term TEXT NOT NULL,
    opens_on TEXT NOT NULL CHECK (opens_on IS date(opens_on)),
    closes_on TEXT NOT NULL CHECK (closes_on IS date(closes_on)),
    absentees_until TEXT CHECK (absentees_until IS date(absentees_until)),
    year_groups TEXT NOT NULL CHECK (json_valid(year_groups)),
    opened_by BLOB NOT NULL CHECK (length(opened_by) = 16),
    opened_at INTEGER NOT NULL,
    submitted_by BLOB CHECK (length(submitted_by) = 16),
    submitted_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, year, term),
    FOREIGN KEY (school_id) REFERENCES school (id)
) STRICT;

CREATE TABLE statutory_result (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    window_id BLOB NOT NULL CHECK (length(window_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    mark INTEGER,
    code TEXT,
    on_date TEXT CHECK (on_date IS date(on_date)),
    taken_by BLOB CHECK (length(taken_by) = 16),
    reason TEXT,
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    amended_for TEXT,
    note TEXT,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    CHECK (mark IS NULL OR code IS NULL),
    FOREIGN KEY (school_id, window_id) REFERENCES statutory_window (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX statutory_result_by_window ON statutory_result (school_id, window_id, pupil_id, v);
CREATE INDEX statutory_result_by_pupil ON statutory_result (school_id, pupil_id);

CREATE TABLE statutory_threshold (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    year INTEGER NOT NULL,
    v INTEGER NOT NULL,
    threshold INTEGER NOT NULL,
    published_on TEXT NOT NULL CHECK (published_on IS date(published_on)),
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    PRIMARY KEY (school_id, year, v),
    FOREIGN KEY (school_id) REFERENCES school (id)
) STRICT;

CREATE TABLE earlier_statutory_result (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    year INTEGER NOT NULL,
    term TEXT NOT NULL,
    mark INTEGER,
    code TEXT,
    source TEXT NOT NULL,
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    removed_by BLOB CHECK (length(removed_by) = 16),
    removed_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    CHECK ((mark IS NULL) <> (code IS NULL)),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX earlier_statutory_result_by_pupil ON earlier_statutory_result (school_id, pupil_id);
