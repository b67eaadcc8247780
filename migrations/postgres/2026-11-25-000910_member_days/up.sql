-- The weekdays on which a member of a group comes to its lessons, from a day on until the next line;
-- every day where there is none, or where weekdays is null. Bit 0 is Monday.
CREATE TABLE member_days (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    from_on DATE NOT NULL,
    weekdays SMALLINT CHECK (weekdays BETWEEN 1 AND 127),
    PRIMARY KEY (school_id, group_id, pupil_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
