-- Of several lines of one version the last stays.
DELETE FROM history WHERE EXISTS (SELECT 1 FROM history AS later WHERE later.school_id = history.school_id
    AND later.rec_kind = history.rec_kind AND later.rec_id = history.rec_id AND later.v = history.v AND later.turn > history.turn);
ALTER TABLE history DROP CONSTRAINT history_pkey;
ALTER TABLE history ADD PRIMARY KEY (school_id, rec_kind, rec_id, v);
ALTER TABLE history DROP COLUMN turn;
