-- The weekly lessons of a group, from a day on until the next line; one lesson on every teaching day where
-- there is none, or where slots is null.
CREATE TABLE group_timetable (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    slots TEXT,
    PRIMARY KEY (school_id, group_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
) STRICT;
