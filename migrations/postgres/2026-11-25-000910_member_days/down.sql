DROP TABLE member_days;
