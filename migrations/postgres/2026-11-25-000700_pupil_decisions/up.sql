-- That two records are of one child, or of two. Of one, other_id is the record that is gone, and
-- before holds what an undo puts back. Without a reference to pupil: it outlives a record.
CREATE TABLE pupil_decision (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    verdict TEXT COLLATE "C" NOT NULL,
    pupil_id UUID NOT NULL,
    other_id UUID NOT NULL,
    before JSON,
    decided_by UUID NOT NULL,
    decided_at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id)
);
