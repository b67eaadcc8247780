CREATE TABLE audit_identity_old (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    seq INTEGER NOT NULL,
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    subject_id BLOB CHECK (length(subject_id) = 16),
    salt BLOB NOT NULL,
    PRIMARY KEY (school_id, seq)
) STRICT;
INSERT INTO audit_identity_old
    SELECT school_id, seq, coalesce(staff_id, zeroblob(16)), subject_id, salt FROM audit_identity;
DROP TABLE audit_identity;
ALTER TABLE audit_identity_old RENAME TO audit_identity;
CREATE INDEX audit_identity_by_subject ON audit_identity (school_id, subject_id);
DROP TABLE cover_link;
