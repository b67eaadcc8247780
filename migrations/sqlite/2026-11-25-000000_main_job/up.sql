-- Every table is keyed by school first, so that a store can be divided by school.
-- The two exceptions are named: an account is a person who may serve several schools, and
-- a school is its own key.

CREATE TABLE account (
    id BLOB NOT NULL PRIMARY KEY CHECK (length(id) = 16),
    email TEXT NOT NULL,
    email_key TEXT NOT NULL UNIQUE,
    password_hash TEXT NOT NULL,
    created_at INTEGER NOT NULL
) STRICT;

-- version: the number of the last write, taken first in every write transaction, so that
-- version order is commit order. epoch changes when a backup is restored. floor is the
-- oldest version a change feed can still be read from.
CREATE TABLE school (
    id BLOB NOT NULL PRIMARY KEY CHECK (length(id) = 16),
    name TEXT NOT NULL,
    rule_pack TEXT NOT NULL,
    time_zone TEXT NOT NULL,
    epoch BLOB NOT NULL CHECK (length(epoch) = 16),
    version INTEGER NOT NULL,
    floor INTEGER NOT NULL,
    audit_seq INTEGER NOT NULL,
    audit_head BLOB NOT NULL,
    v INTEGER NOT NULL,
    created_at INTEGER NOT NULL
) STRICT;

CREATE TABLE staff (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    account_id BLOB REFERENCES account (id) CHECK (length(account_id) = 16),
    name TEXT NOT NULL,
    email TEXT NOT NULL,
    email_key TEXT NOT NULL,
    v INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    disabled_at INTEGER,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, email_key)
) STRICT;
CREATE INDEX staff_by_account ON staff (account_id);

CREATE TABLE staff_role (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    role TEXT NOT NULL,
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    until_on TEXT CHECK (until_on IS date(until_on)),
    PRIMARY KEY (school_id, staff_id, role, from_on),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
) STRICT;

CREATE TABLE invitation (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    secret_hash BLOB NOT NULL,
    created_by BLOB CHECK (length(created_by) = 16),
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    accepted_at INTEGER,
    withdrawn_at INTEGER,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
) STRICT;

CREATE TABLE session (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    ended_at INTEGER,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
) STRICT;
CREATE INDEX session_by_staff ON session (school_id, staff_id);

CREATE TABLE refresh_token (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    session_id BLOB NOT NULL CHECK (length(session_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    secret_hash BLOB NOT NULL,
    issued_at INTEGER NOT NULL,
    used_at INTEGER,
    parent_id BLOB CHECK (length(parent_id) = 16),
    PRIMARY KEY (school_id, session_id, id),
    FOREIGN KEY (school_id, session_id) REFERENCES session (school_id, id)
) STRICT;

CREATE TABLE idempotency (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    idem_key TEXT NOT NULL,
    request_hash BLOB NOT NULL,
    reply TEXT NOT NULL CHECK (json_valid(reply)),
    at INTEGER NOT NULL,
    PRIMARY KEY (school_id, staff_id, idem_key)
) STRICT;

CREATE TABLE class (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    name_key TEXT NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, name_key)
) STRICT;

CREATE TABLE class_staff (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    class_id BLOB NOT NULL CHECK (length(class_id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    until_on TEXT CHECK (until_on IS date(until_on)),
    PRIMARY KEY (school_id, class_id, staff_id, from_on),
    FOREIGN KEY (school_id, class_id) REFERENCES class (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
) STRICT;
CREATE INDEX class_staff_by_staff ON class_staff (school_id, staff_id);

CREATE TABLE pupil (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    pupil_ref TEXT,
    given_name TEXT NOT NULL,
    family_name TEXT,
    preferred_name TEXT,
    label TEXT,
    search_key TEXT NOT NULL,
    date_of_birth TEXT CHECK (date_of_birth IS date(date_of_birth)),
    left_on TEXT CHECK (left_on IS date(left_on)),
    v INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, pupil_ref)
) STRICT;

CREATE TABLE pupil_year (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    year INTEGER NOT NULL,
    year_group TEXT NOT NULL,
    PRIMARY KEY (school_id, pupil_id, year),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;

CREATE TABLE class_member (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    class_id BLOB NOT NULL CHECK (length(class_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    until_on TEXT CHECK (until_on IS date(until_on)),
    PRIMARY KEY (school_id, class_id, pupil_id, from_on),
    FOREIGN KEY (school_id, class_id) REFERENCES class (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX class_member_by_pupil ON class_member (school_id, pupil_id);

CREATE TABLE roster_import (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    status TEXT NOT NULL,
    encoding TEXT NOT NULL,
    readings TEXT NOT NULL CHECK (json_valid(readings)),
    plan TEXT NOT NULL CHECK (json_valid(plan)),
    created_by BLOB NOT NULL CHECK (length(created_by) = 16),
    created_at INTEGER NOT NULL,
    confirmed_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id)
) STRICT;

CREATE TABLE school_year (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    year INTEGER NOT NULL,
    starts_on TEXT NOT NULL CHECK (starts_on IS date(starts_on)),
    ends_on TEXT NOT NULL CHECK (ends_on IS date(ends_on)),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, year)
) STRICT;

CREATE TABLE half_term (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    year INTEGER NOT NULL,
    name TEXT NOT NULL,
    starts_on TEXT NOT NULL CHECK (starts_on IS date(starts_on)),
    ends_on TEXT NOT NULL CHECK (ends_on IS date(ends_on)),
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, year) REFERENCES school_year (school_id, year)
) STRICT;

CREATE TABLE closure (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    kind TEXT NOT NULL,
    reason TEXT,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, on_date)
) STRICT;

CREATE TABLE sequence (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    draft TEXT NOT NULL CHECK (json_valid(draft)),
    draft_v INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id)
) STRICT;

CREATE TABLE sequence_version (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    sequence_id BLOB NOT NULL CHECK (length(sequence_id) = 16),
    number INTEGER NOT NULL,
    effective_on TEXT NOT NULL CHECK (effective_on IS date(effective_on)),
    note TEXT,
    content TEXT NOT NULL CHECK (json_valid(content)),
    published_by BLOB NOT NULL CHECK (length(published_by) = 16),
    published_at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, sequence_id, number),
    FOREIGN KEY (school_id, sequence_id) REFERENCES sequence (school_id, id)
) STRICT;

CREATE TABLE teaching_group (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    sequence_id BLOB NOT NULL CHECK (length(sequence_id) = 16),
    start_lesson_id BLOB CHECK (length(start_lesson_id) = 16),
    closed_on TEXT CHECK (closed_on IS date(closed_on)),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, sequence_id) REFERENCES sequence (school_id, id)
) STRICT;

CREATE TABLE group_staff (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    until_on TEXT CHECK (until_on IS date(until_on)),
    PRIMARY KEY (school_id, group_id, staff_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, staff_id) REFERENCES staff (school_id, id)
) STRICT;
CREATE INDEX group_staff_by_staff ON group_staff (school_id, staff_id);

CREATE TABLE group_member (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    until_on TEXT CHECK (until_on IS date(until_on)),
    PRIMARY KEY (school_id, group_id, pupil_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX group_member_by_pupil ON group_member (school_id, pupil_id);

CREATE TABLE lesson_record (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    slot INTEGER NOT NULL,
    generation INTEGER NOT NULL,
    version_id BLOB NOT NULL CHECK (length(version_id) = 16),
    lesson_id BLOB NOT NULL CHECK (length(lesson_id) = 16),
    outcome TEXT NOT NULL,
    items TEXT NOT NULL CHECK (json_valid(items)),
    reason TEXT,
    taught_by BLOB NOT NULL CHECK (length(taught_by) = 16),
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    deleted_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, group_id, on_date, slot, generation),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
) STRICT;

CREATE TABLE lesson_mark (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    record_id BLOB NOT NULL CHECK (length(record_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    mark TEXT NOT NULL,
    missed INTEGER NOT NULL CHECK (missed IN (0, 1)),
    PRIMARY KEY (school_id, record_id, pupil_id),
    FOREIGN KEY (school_id, record_id) REFERENCES lesson_record (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX lesson_mark_by_pupil ON lesson_mark (school_id, pupil_id);

CREATE TABLE check_definition (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    kind TEXT NOT NULL,
    items TEXT NOT NULL CHECK (json_valid(items)),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id)
) STRICT;

CREATE TABLE check_round (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    opens_on TEXT NOT NULL CHECK (opens_on IS date(opens_on)),
    closes_on TEXT NOT NULL CHECK (closes_on IS date(closes_on)),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id)
) STRICT;

CREATE TABLE round_check (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    round_id BLOB NOT NULL CHECK (length(round_id) = 16),
    check_id BLOB NOT NULL CHECK (length(check_id) = 16),
    PRIMARY KEY (school_id, round_id, check_id),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
) STRICT;

CREATE TABLE response (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    round_id BLOB NOT NULL CHECK (length(round_id) = 16),
    check_id BLOB NOT NULL CHECK (length(check_id) = 16),
    item_id BLOB NOT NULL CHECK (length(item_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    outcome TEXT NOT NULL,
    taken_by BLOB NOT NULL CHECK (length(taken_by) = 16),
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    corrects BLOB CHECK (length(corrects) = 16),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, corrects),
    FOREIGN KEY (school_id, round_id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX response_by_round ON response (school_id, round_id, pupil_id);
CREATE INDEX response_by_pupil ON response (school_id, pupil_id);

-- The latest change of each record in each scope: the feed that devices read.
CREATE TABLE change (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    scope_kind TEXT NOT NULL,
    scope_id BLOB NOT NULL CHECK (length(scope_id) = 16),
    rec_kind TEXT NOT NULL,
    rec_id BLOB NOT NULL CHECK (length(rec_id) = 16),
    v INTEGER NOT NULL,
    kind TEXT NOT NULL,
    PRIMARY KEY (school_id, scope_kind, scope_id, rec_kind, rec_id)
) STRICT;
CREATE INDEX change_by_version ON change (school_id, scope_kind, scope_id, v, rec_id);

-- What every editable record said after each change. Only ever added to.
CREATE TABLE history (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    rec_kind TEXT NOT NULL,
    rec_id BLOB NOT NULL CHECK (length(rec_id) = 16),
    v INTEGER NOT NULL,
    at INTEGER NOT NULL,
    staff_id BLOB CHECK (length(staff_id) = 16),
    body TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (school_id, rec_kind, rec_id, v)
) STRICT;

CREATE TABLE audit_entry (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    seq INTEGER NOT NULL,
    at INTEGER NOT NULL,
    operation TEXT NOT NULL,
    subject_kind TEXT NOT NULL,
    commitment BLOB NOT NULL,
    digest BLOB NOT NULL,
    PRIMARY KEY (school_id, seq)
) STRICT;

-- Who and whom, apart from the chain so that they can be erased without breaking it.
CREATE TABLE audit_identity (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    seq INTEGER NOT NULL,
    staff_id BLOB NOT NULL CHECK (length(staff_id) = 16),
    subject_id BLOB CHECK (length(subject_id) = 16),
    salt BLOB NOT NULL,
    PRIMARY KEY (school_id, seq)
) STRICT;
CREATE INDEX audit_identity_by_subject ON audit_identity (school_id, subject_id);
