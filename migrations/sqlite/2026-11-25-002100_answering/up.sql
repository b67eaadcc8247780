-- What was said of how a pupil answers checks: the usual speech as pairs of sounds, the usual response mode.
-- Each word counts from its day on until one said later; null takes back. Values stand here and in no history,
-- so that removing them removes them.
CREATE TABLE pupil_answering (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    subject TEXT NOT NULL,
    v INTEGER NOT NULL,
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    value TEXT,
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    PRIMARY KEY (school_id, pupil_id, subject, v),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;

-- Checks that are not accessible to a pupil, by kind and way of answering; null for every one.
CREATE TABLE not_accessible (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    kind TEXT,
    mode TEXT,
    reason TEXT NOT NULL,
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    review_on TEXT NOT NULL CHECK (review_on IS date(review_on)),
    said_by BLOB NOT NULL CHECK (length(said_by) = 16),
    at INTEGER NOT NULL,
    ended_on TEXT CHECK (ended_on IS date(ended_on)),
    ended_by BLOB CHECK (length(ended_by) = 16),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX not_accessible_by_pupil ON not_accessible (school_id, pupil_id);
