-- Which of several things done at once it is: operations that a device sends together are one version, and each has its
-- own line.
ALTER TABLE history ADD COLUMN turn SMALLINT NOT NULL DEFAULT 0;
ALTER TABLE history DROP CONSTRAINT history_pkey;
ALTER TABLE history ADD PRIMARY KEY (school_id, rec_kind, rec_id, v, turn);
