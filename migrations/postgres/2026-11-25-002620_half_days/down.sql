-- A day of which a member came to a half is a whole one again.
UPDATE member_days SET weekdays = (weekdays | (weekdays >> 7)) & 127;
ALTER TABLE member_days DROP CONSTRAINT member_days_weekdays_check;
ALTER TABLE member_days ADD CONSTRAINT member_days_weekdays_check CHECK (weekdays BETWEEN 1 AND 127);
