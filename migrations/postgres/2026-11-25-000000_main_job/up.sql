-- Every table is keyed by school first, so that a store can be divided by school.
-- The two exceptions are named: an account is a person who may serve several schools, and
-- a school is its own key.

CREATE TABLE account (
    id UUID NOT NULL PRIMARY KEY,
    email TEXT COLLATE "C" NOT NULL,
    email_key TEXT COLLATE "C" NOT NULL UNIQUE,
    password_hash TEXT COLLATE "C" NOT NULL,
    created_at TIMESTAMPTZ NOT NULL
);

-- version: the number of the last write, taken first in every write transaction, so that
-- version order is commit order. epoch changes when a backup is restored. floor is the
-- oldest version a change feed can still be read from.
CREATE TABLE school (
    id UUID NOT NULL PRIMARY KEY,
    name TEXT COLLATE "C" NOT NULL,
    rule_pack TEXT COLLATE "C" NOT NULL,
    time_zone TEXT COLLATE "C" NOT NULL,
    epoch UUID NOT NULL,
    version BIGINT NOT NULL,
    floor BIGINT NOT NULL,
    audit_seq BIGINT NOT NULL,
    audit_head BYTEA NOT NULL,
    v BIGINT NOT NULL,
    created_at TIMESTAMPTZ NOT NULL
);

CREATE TABLE staff (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    account_id UUID REFERENCES account (id),
    name TEXT COLLATE "C" NOT NULL,
    email TEXT COLLATE "C" NOT NULL,
    email_key TEXT COLLATE "C" NOT NULL,
    v BIGINT NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    disabled_at TIMESTAMPTZ,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, email_key)
);
CREATE INDEX staff_by_account ON staff (account_id);

CREATE TABLE staff_role (
    school_id UUID NOT NULL,
    staff_id UUID NOT NULL,
    role TEXT COLLATE "C" NOT NULL,
    from_on DATE NOT NULL,
    until_on DATE,
    PRIMARY KEY (school_id, staff_id, role, from_on),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
);

CREATE TABLE invitation (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    staff_id UUID NOT NULL,
    secret_hash BYTEA NOT NULL,
    created_by UUID,
    created_at TIMESTAMPTZ NOT NULL,
    expires_at TIMESTAMPTZ NOT NULL,
    accepted_at TIMESTAMPTZ,
    withdrawn_at TIMESTAMPTZ,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
);

CREATE TABLE session (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    staff_id UUID NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    expires_at TIMESTAMPTZ NOT NULL,
    ended_at TIMESTAMPTZ,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
);
CREATE INDEX session_by_staff ON session (school_id, staff_id);

CREATE TABLE refresh_token (
    school_id UUID NOT NULL,
    session_id UUID NOT NULL,
    id UUID NOT NULL,
    secret_hash BYTEA NOT NULL,
    issued_at TIMESTAMPTZ NOT NULL,
    used_at TIMESTAMPTZ,
    parent_id UUID,
    PRIMARY KEY (school_id, session_id, id),
    FOREIGN KEY (school_id, session_id) REFERENCES session (school_id, id)
);

CREATE TABLE idempotency (
    school_id UUID NOT NULL,
    staff_id UUID NOT NULL,
    idem_key TEXT COLLATE "C" NOT NULL,
    request_hash BYTEA NOT NULL,
    reply JSON NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, staff_id, idem_key)
);

CREATE TABLE class (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    name_key TEXT COLLATE "C" NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, name_key)
);

CREATE TABLE class_staff (
    school_id UUID NOT NULL,
    class_id UUID NOT NULL,
    staff_id UUID NOT NULL,
    from_on DATE NOT NULL,
    until_on DATE,
    PRIMARY KEY (school_id, class_id, staff_id, from_on),
    FOREIGN KEY (school_id, class_id) REFERENCES class (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
);
CREATE INDEX class_staff_by_staff ON class_staff (school_id, staff_id);

CREATE TABLE pupil (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    pupil_ref TEXT COLLATE "C",
    given_name TEXT COLLATE "C" NOT NULL,
    family_name TEXT COLLATE "C",
    preferred_name TEXT COLLATE "C",
    label TEXT COLLATE "C",
    search_key TEXT COLLATE "C" NOT NULL,
    date_of_birth DATE,
    left_on DATE,
    v BIGINT NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, pupil_ref)
);

CREATE TABLE pupil_year (
    school_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    year INTEGER NOT NULL,
    year_group TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (school_id, pupil_id, year),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);

CREATE TABLE class_member (
    school_id UUID NOT NULL,
    class_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    from_on DATE NOT NULL,
    until_on DATE,
    PRIMARY KEY (school_id, class_id, pupil_id, from_on),
    FOREIGN KEY (school_id, class_id) REFERENCES class (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX class_member_by_pupil ON class_member (school_id, pupil_id);

CREATE TABLE roster_import (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    status TEXT COLLATE "C" NOT NULL,
    encoding TEXT COLLATE "C" NOT NULL,
    readings JSON NOT NULL,
    plan JSON NOT NULL,
    created_by UUID NOT NULL,
    created_at TIMESTAMPTZ NOT NULL,
    confirmed_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id)
);

CREATE TABLE school_year (
    school_id UUID NOT NULL REFERENCES school (id),
    year INTEGER NOT NULL,
    starts_on DATE NOT NULL,
    ends_on DATE NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, year)
);

CREATE TABLE half_term (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    year INTEGER NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    starts_on DATE NOT NULL,
    ends_on DATE NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, year) REFERENCES school_year (school_id, year)
);

CREATE TABLE closure (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    on_date DATE NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    reason TEXT COLLATE "C",
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, on_date)
);

CREATE TABLE sequence (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    draft JSON NOT NULL,
    draft_v BIGINT NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id)
);

CREATE TABLE sequence_version (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    sequence_id UUID NOT NULL,
    number INTEGER NOT NULL,
    effective_on DATE NOT NULL,
    note TEXT COLLATE "C",
    content JSON NOT NULL,
    published_by UUID NOT NULL,
    published_at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, sequence_id, number),
    FOREIGN KEY (school_id, sequence_id) REFERENCES sequence (school_id, id)
);

CREATE TABLE teaching_group (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    sequence_id UUID NOT NULL,
    start_lesson_id UUID,
    closed_on DATE,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, sequence_id) REFERENCES sequence (school_id, id)
);

CREATE TABLE group_staff (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    staff_id UUID NOT NULL,
    from_on DATE NOT NULL,
    until_on DATE,
    PRIMARY KEY (school_id, group_id, staff_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
);
CREATE INDEX group_staff_by_staff ON group_staff (school_id, staff_id);

CREATE TABLE group_member (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    from_on DATE NOT NULL,
    until_on DATE,
    PRIMARY KEY (school_id, group_id, pupil_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX group_member_by_pupil ON group_member (school_id, pupil_id);

CREATE TABLE lesson_record (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    group_id UUID NOT NULL,
    on_date DATE NOT NULL,
    slot SMALLINT NOT NULL,
    generation SMALLINT NOT NULL,
    version_id UUID NOT NULL,
    lesson_id UUID NOT NULL,
    outcome TEXT COLLATE "C" NOT NULL,
    items JSON NOT NULL,
    reason TEXT COLLATE "C",
    taught_by UUID NOT NULL,
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    deleted_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, group_id, on_date, slot, generation),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
);

CREATE TABLE lesson_mark (
    school_id UUID NOT NULL,
    record_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    mark TEXT COLLATE "C" NOT NULL,
    missed BOOLEAN NOT NULL,
    PRIMARY KEY (school_id, record_id, pupil_id),
    FOREIGN KEY (school_id, record_id) REFERENCES lesson_record (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX lesson_mark_by_pupil ON lesson_mark (school_id, pupil_id);

CREATE TABLE check_definition (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    items JSON NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id)
);

CREATE TABLE check_round (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    opens_on DATE NOT NULL,
    closes_on DATE NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id)
);

CREATE TABLE round_check (
    school_id UUID NOT NULL,
    round_id UUID NOT NULL,
    check_id UUID NOT NULL,
    PRIMARY KEY (school_id, round_id, check_id),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
);

CREATE TABLE response (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    round_id UUID NOT NULL,
    check_id UUID NOT NULL,
    item_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    on_date DATE NOT NULL,
    outcome TEXT COLLATE "C" NOT NULL,
    taken_by UUID NOT NULL,
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    corrects UUID,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, corrects),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX response_by_round ON response (school_id, round_id, pupil_id);
CREATE INDEX response_by_pupil ON response (school_id, pupil_id);

-- The latest change of each record in each scope: the feed that devices read.
CREATE TABLE change (
    school_id UUID NOT NULL,
    scope_kind TEXT COLLATE "C" NOT NULL,
    scope_id UUID NOT NULL,
    rec_kind TEXT COLLATE "C" NOT NULL,
    rec_id UUID NOT NULL,
    v BIGINT NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (school_id, scope_kind, scope_id, rec_kind, rec_id)
);
CREATE INDEX change_by_version ON change (school_id, scope_kind, scope_id, v, rec_id);

-- What every editable record said after each change. Only ever added to.
CREATE TABLE history (
    school_id UUID NOT NULL,
    rec_kind TEXT COLLATE "C" NOT NULL,
    rec_id UUID NOT NULL,
    v BIGINT NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    staff_id UUID,
    body JSON NOT NULL,
    PRIMARY KEY (school_id, rec_kind, rec_id, v)
);

CREATE TABLE audit_entry (
    school_id UUID NOT NULL,
    seq BIGINT NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    operation TEXT COLLATE "C" NOT NULL,
    subject_kind TEXT COLLATE "C" NOT NULL,
    commitment BYTEA NOT NULL,
    digest BYTEA NOT NULL,
    PRIMARY KEY (school_id, seq)
);

-- Who and whom, apart from the chain so that they can be erased without breaking it.
CREATE TABLE audit_identity (
    school_id UUID NOT NULL,
    seq BIGINT NOT NULL,
    staff_id UUID NOT NULL,
    subject_id UUID,
    salt BYTEA NOT NULL,
    PRIMARY KEY (school_id, seq)
);
CREATE INDEX audit_identity_by_subject ON audit_identity (school_id, subject_id);
