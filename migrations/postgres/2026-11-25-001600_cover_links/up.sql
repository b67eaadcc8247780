-- Links that open a group's cover page on one day without an account. Of the secret only its hash is kept.
CREATE TABLE cover_link (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    group_id UUID NOT NULL,
    on_date DATE NOT NULL,
    secret_hash BYTEA NOT NULL,
    created_by UUID NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    valid_from TIMESTAMPTZ NOT NULL,
    valid_until TIMESTAMPTZ NOT NULL,
    revoked_at TIMESTAMPTZ,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
);
CREATE INDEX cover_link_by_group ON cover_link (school_id, group_id);
CREATE INDEX cover_link_by_end ON cover_link (valid_until);

-- Who opened a link is nobody the school has an account of.
ALTER TABLE audit_identity ALTER COLUMN staff_id DROP NOT NULL;
