-- Weekdays of which a member comes to a half. Bits 0 to 6 alone are whole days, Monday first; bits 7 to 13 say a half: the
-- morning where the day's lower bit is not set, else the afternoon.
ALTER TABLE member_days DROP CONSTRAINT member_days_weekdays_check;
ALTER TABLE member_days ADD CONSTRAINT member_days_weekdays_check CHECK (weekdays BETWEEN 1 AND 16383);
