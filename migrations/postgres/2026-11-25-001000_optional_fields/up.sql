-- The optional fields a school has switched on, each with what it is recorded for and when that is to be
-- looked at again. Without a row a field is off and nothing of it is held.
CREATE TABLE optional_field (
    school_id UUID NOT NULL REFERENCES school (id),
    field TEXT COLLATE "C" NOT NULL,
    purpose TEXT COLLATE "C" NOT NULL,
    review_on DATE NOT NULL,
    switched_on_by UUID NOT NULL,
    switched_on_at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, field)
);

-- What was said of an optional field of a pupil, each word from its day on until one said later; null takes
-- back what was recorded. Values stand here and in no history, so that removing them removes them.
CREATE TABLE pupil_field (
    school_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    field TEXT COLLATE "C" NOT NULL,
    v BIGINT NOT NULL,
    from_on DATE NOT NULL,
    value TEXT COLLATE "C",
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, pupil_id, field, v),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, field) REFERENCES optional_field (school_id, field)
);
