-- The optional fields a school has switched on, each with what it is recorded for and when that is to be
-- looked at again. Without a row a field is off and nothing of it is held.
CREATE TABLE optional_field (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    field TEXT NOT NULL,
    purpose TEXT NOT NULL,
    review_on TEXT NOT NULL CHECK (review_on IS date(review_on)),
    switched_on_by BLOB NOT NULL CHECK (length(switched_on_by) = 16),
    switched_on_at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, field)
) STRICT;

-- What was said of an optional field of a pupil, each word from its day on until one said later; null takes
-- back what was recorded. Values stand here and in no history, so that removing them removes them.
CREATE TABLE pupil_field (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    field TEXT NOT NULL,
    v INTEGER NOT NULL,
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    value TEXT,
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    PRIMARY KEY (school_id, pupil_id, field, v),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, field) REFERENCES optional_field (school_id, field)
) STRICT;
