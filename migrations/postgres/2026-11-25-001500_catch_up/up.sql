-- Catch-up given to some pupils of a group: the ids of the items, and of the versions they stand in.
CREATE TABLE catch_up (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    group_id UUID NOT NULL,
    on_date DATE NOT NULL,
    items JSON NOT NULL,
    versions JSON NOT NULL,
    taught_by UUID NOT NULL,
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    deleted_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
);
CREATE INDEX catch_up_by_group ON catch_up (school_id, group_id, on_date);

CREATE TABLE catch_up_pupil (
    school_id UUID NOT NULL,
    catch_up_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    PRIMARY KEY (school_id, catch_up_id, pupil_id),
    FOREIGN KEY (school_id, catch_up_id) REFERENCES catch_up (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX catch_up_pupil_by_pupil ON catch_up_pupil (school_id, pupil_id);
