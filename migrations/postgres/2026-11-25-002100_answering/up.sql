-- What was said of how a pupil answers checks: the usual speech as pairs of sounds, the usual response mode.
-- Each word counts from its day on until one said later; null takes back. Values stand here and in no history,
-- so that removing them removes them.
CREATE TABLE pupil_answering (
    school_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    subject TEXT COLLATE "C" NOT NULL,
    v BIGINT NOT NULL,
    from_on DATE NOT NULL,
    value TEXT COLLATE "C",
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, pupil_id, subject, v),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);

-- Checks that are not accessible to a pupil, by kind and way of answering; null for every one.
CREATE TABLE not_accessible (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    kind TEXT COLLATE "C",
    mode TEXT COLLATE "C",
    reason TEXT COLLATE "C" NOT NULL,
    from_on DATE NOT NULL,
    review_on DATE NOT NULL,
    said_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    ended_on DATE,
    ended_by UUID,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX not_accessible_by_pupil ON not_accessible (school_id, pupil_id);
