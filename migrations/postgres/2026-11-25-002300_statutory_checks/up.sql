-- The statutory check: windows, entries of results (never overwritten: of several for a pupil the latest is in force),
-- thresholds as published, and results from before the records here.
CREATE TABLE statutory_window (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    year INTEGER NOT NULL,
    term TEXT COLLATE "C" NOT NULL,
    opens_on DATE NOT NULL,
    closes_on DATE NOT NULL,
    absentees_until DATE,
    year_groups JSON NOT NULL,
    opened_by UUID NOT NULL,
    opened_at TIMESTAMPTZ NOT NULL,
    submitted_by UUID,
    submitted_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, year, term),
    FOREIGN KEY (school_id) REFERENCES school (id)
);

CREATE TABLE statutory_result (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    window_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    mark SMALLINT,
    code TEXT COLLATE "C",
    on_date DATE,
    taken_by UUID,
    reason TEXT COLLATE "C",
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    amended_for TEXT COLLATE "C",
    note TEXT COLLATE "C",
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    CHECK (mark IS NULL OR code IS NULL),
    FOREIGN KEY (school_id, window_id) REFERENCES statutory_window (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX statutory_result_by_window ON statutory_result (school_id, window_id, pupil_id, v);
CREATE INDEX statutory_result_by_pupil ON statutory_result (school_id, pupil_id);

CREATE TABLE statutory_threshold (
    school_id UUID NOT NULL,
    year INTEGER NOT NULL,
    v BIGINT NOT NULL,
    threshold SMALLINT NOT NULL,
    published_on DATE NOT NULL,
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, year, v),
    FOREIGN KEY (school_id) REFERENCES school (id)
);

CREATE TABLE earlier_statutory_result (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    year INTEGER NOT NULL,
    term TEXT COLLATE "C" NOT NULL,
    mark SMALLINT,
    code TEXT COLLATE "C",
    source TEXT COLLATE "C" NOT NULL,
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    removed_by UUID,
    removed_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    CHECK ((mark IS NULL) <> (code IS NULL)),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX earlier_statutory_result_by_pupil ON earlier_statutory_result (school_id, pupil_id);
