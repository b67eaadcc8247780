-- Links that open a group's cover page on one day without an account. Of the secret only its hash is kept.
CREATE TABLE cover_link (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    secret_hash BLOB NOT NULL,
    created_by BLOB NOT NULL CHECK (length(created_by) = 16),
    created_at INTEGER NOT NULL,
    valid_from INTEGER NOT NULL,
    valid_until INTEGER NOT NULL,
    revoked_at INTEGER,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
) STRICT;
CREATE INDEX cover_link_by_group ON cover_link (school_id, group_id);
CREATE INDEX cover_link_by_end ON cover_link (valid_until);

-- Who opened a link is nobody the school has an account of.
CREATE TABLE audit_identity_new (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    seq INTEGER NOT NULL,
    staff_id BLOB CHECK (length(staff_id) = 16),
    subject_id BLOB CHECK (length(subject_id) = 16),
    salt BLOB NOT NULL,
    PRIMARY KEY (school_id, seq)
) STRICT;
INSERT INTO audit_identity_new SELECT school_id, seq, staff_id, subject_id, salt FROM audit_identity;
DROP TABLE audit_identity;
ALTER TABLE audit_identity_new RENAME TO audit_identity;
CREATE INDEX audit_identity_by_subject ON audit_identity (school_id, subject_id);
