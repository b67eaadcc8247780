DROP TABLE report_release;
DROP TABLE report_snapshot;
