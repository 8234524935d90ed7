BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE audit (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	at DATETIME NOT NULL, 
	who VARCHAR(120) NOT NULL, 
	what VARCHAR(60) NOT NULL, 
	subject VARCHAR(120) NOT NULL, 
	old JSON NOT NULL, 
	new JSON NOT NULL
);
CREATE TABLE device (
	id CHAR(32) NOT NULL, 
	token_sha VARCHAR(64) NOT NULL, 
	label VARCHAR(120) NOT NULL, 
	enrolled_at DATETIME NOT NULL, 
	revoked_at DATETIME, 
	last_heard_at DATETIME, 
	app_build VARCHAR(64), 
	CONSTRAINT pk_device PRIMARY KEY (id), 
	CONSTRAINT uq_device_token_sha UNIQUE (token_sha)
);
INSERT INTO "device" VALUES('5310268849184b0c8c91492800e94f5b','d370d30f4658661bdb14643d34f9a3a05b0a9c969558ec2316266e7f386df0f4','demo tablet','2026-11-25 12:02:46.773256',NULL,'2026-11-25 12:02:46.824292','0123456789abcdef');
CREATE TABLE feed_clock (
	id INTEGER NOT NULL, 
	n INTEGER NOT NULL, 
	CONSTRAINT pk_feed_clock PRIMARY KEY (id)
);
INSERT INTO "feed_clock" VALUES(1,0);
CREATE TABLE index_rev (
	serial INTEGER NOT NULL, 
	routes JSON NOT NULL, 
	published_at DATETIME NOT NULL, 
	CONSTRAINT pk_index_rev PRIMARY KEY (serial)
);
CREATE TABLE pack_file (
	sha VARCHAR(64) NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	size INTEGER NOT NULL, 
	gz BLOB NOT NULL, 
	CONSTRAINT pk_pack_file PRIMARY KEY (sha)
);
CREATE TABLE report (
	server_no INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	id CHAR(32) NOT NULL, 
	device_id CHAR(32), 
	install_id CHAR(32) NOT NULL, 
	seq INTEGER NOT NULL, 
	payload_sha VARCHAR(64) NOT NULL, 
	item JSON NOT NULL, 
	line_key VARCHAR(120) NOT NULL, 
	direction VARCHAR(120) NOT NULL, 
	at_m DOUBLE, 
	found VARCHAR(20) NOT NULL, 
	rail_state VARCHAR(120), 
	pack_sha VARCHAR(64), 
	supersedes CHAR(32), 
	observed_at DATETIME NOT NULL, 
	sent_at DATETIME NOT NULL, 
	received_at DATETIME NOT NULL, 
	clock_offset_s DOUBLE NOT NULL, 
	observed_est_at DATETIME NOT NULL, 
	quarantined BOOLEAN NOT NULL, 
	version INTEGER NOT NULL, 
	CONSTRAINT fk_report_device_id FOREIGN KEY(device_id) REFERENCES device (id), 
	CONSTRAINT uq_report_id UNIQUE (id)
);
INSERT INTO "report" VALUES(1,'0192f0c1700040008000000000000001','5310268849184b0c8c91492800e94f5b','0192f0c1000040008000000000000001',1,'d7f46dafef1020842dc8bd9478c185e8c29b3880b17a537c93d43449799f8617','{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000001", "seq": 1, "observed_at": "2026-11-25T06:41:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": null, "at_m": 51234.5, "position": {"lat": 54.1, "lon": -2.5, "accuracy_m": 12, "age_s": 1.5}, "found": "good", "happened": [], "step": null, "weather": "dry", "sand_used": null, "flats_suspected": false, "train_not_seen": false, "told_signaller_at": null, "text": "", "train": null, "rail_state": null, "driver_name": null, "supersedes": null}}','larch-valley','down',51234.5,'good',NULL,NULL,NULL,'2026-11-25 06:41:00.000000','2026-11-25 07:40:00.000000','2026-11-25 12:02:46.784492',15766.784492,'2026-11-25 11:03:46.784492',0,1);
INSERT INTO "report" VALUES(2,'0192f0c1700040008000000000000002','5310268849184b0c8c91492800e94f5b','0192f0c1000040008000000000000001',2,'8e82551a7b80f02e174db0dfb4ac69864cbbf14878a7339ac581859e594729b5','{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000002", "seq": 2, "observed_at": "2026-11-25T06:42:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": "Kettle Bay", "at_m": 51234.5, "position": {"lat": 54.1, "lon": -2.5, "accuracy_m": 12, "age_s": 1.5}, "found": "reportable", "happened": ["slide", "leaves"], "step": "2", "weather": "mist", "sand_used": true, "flats_suspected": true, "train_not_seen": false, "told_signaller_at": "2026-11-25T06:40:00.000Z", "text": "Slid from the bridge\non: 50 m \u2013 \u201call\u201d wheels \ud83e\uddca", "train": "three-step/8", "rail_state": "leaf film", "driver_name": "A. Driver", "supersedes": null}}','larch-valley','down',51234.5,'reportable','leaf film',NULL,NULL,'2026-11-25 06:42:00.000000','2026-11-25 07:40:00.000000','2026-11-25 12:02:46.784492',15766.784492,'2026-11-25 11:04:46.784492',0,1);
INSERT INTO "report" VALUES(3,'0192f0c1700040008000000000000003','5310268849184b0c8c91492800e94f5b','0192f0c1000040008000000000000001',3,'234b2af0014e386455e15c9219b99ee2c46bc1f4615b6756b2f49ad7a1d9a942','{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000003", "seq": 3, "observed_at": "2026-11-25T06:43:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": null, "at_m": null, "position": null, "found": "expected", "happened": [], "step": null, "weather": null, "sand_used": null, "flats_suspected": false, "train_not_seen": false, "told_signaller_at": null, "text": "", "train": null, "rail_state": null, "driver_name": null, "supersedes": "0192f0c1-7000-4000-8000-000000000001"}}','larch-valley','down',NULL,'expected',NULL,NULL,'0192f0c1700040008000000000000001','2026-11-25 06:43:00.000000','2026-11-25 07:40:00.000000','2026-11-25 12:02:46.824292',15766.824292,'2026-11-25 11:05:46.824292',0,1);
INSERT INTO "report" VALUES(4,'0192f0c1700040008000000000000004','5310268849184b0c8c91492800e94f5b','0192f0c1000040008000000000000001',4,'cbe9288a47d87da2f3e3a1468e5f055de64351b0d9eab6f9737438bb2d2bd218','{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000004", "seq": 4, "observed_at": "2026-11-25T06:44:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": null, "at_m": 51234.5, "position": {"lat": 54.1, "lon": -2.5, "accuracy_m": 12, "age_s": 1.5}, "found": "good", "happened": [], "step": null, "weather": null, "sand_used": null, "flats_suspected": false, "train_not_seen": false, "told_signaller_at": null, "text": "", "train": null, "rail_state": null, "driver_name": null, "supersedes": null}}','larch-valley','down',51234.5,'good',NULL,NULL,NULL,'2026-11-25 06:44:00.000000','2026-11-25 07:40:00.000000','2026-11-25 12:02:46.824292',15766.824292,'2026-11-25 11:06:46.824292',0,1);
CREATE INDEX ix_report_along_line ON report (line_key, at_m);
CREATE INDEX ix_report_newest ON report (received_at, id);
CREATE INDEX ix_report_sequence ON report (device_id, install_id, seq);
CREATE TRIGGER audit_no_update BEFORE UPDATE ON audit
        BEGIN SELECT RAISE(ABORT, 'audit is append-only'); END;
CREATE TRIGGER audit_no_delete BEFORE DELETE ON audit
        BEGIN SELECT RAISE(ABORT, 'audit is append-only'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('report',4);
COMMIT;
