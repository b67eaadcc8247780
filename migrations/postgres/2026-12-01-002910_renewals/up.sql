-- Whether accepting it gives a new password to an account that is there already, and ends all its sign-ins.
ALTER TABLE invitation ADD COLUMN renews BOOLEAN NOT NULL DEFAULT FALSE;
