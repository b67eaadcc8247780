DROP TABLE group_proposal;
