-- The weekly lessons of a group, from a day on until the next line; one lesson on every teaching day where
-- there is none, or where slots is null.
CREATE TABLE group_timetable (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    from_on DATE NOT NULL,
    slots JSON,
    PRIMARY KEY (school_id, group_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
);
