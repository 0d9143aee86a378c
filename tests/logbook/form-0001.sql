PRAGMA application_id = 1129073988;
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE blob (
	sha256 VARCHAR(64) NOT NULL, 
	size INTEGER NOT NULL, 
	packing VARCHAR(8) NOT NULL, 
	content BLOB NOT NULL, 
	PRIMARY KEY (sha256)
);
INSERT INTO "blob" VALUES('1d0675a981a7f4f8075900589948996ea14b3f174b36d98066c49686bb8975d4',600,'zlib',X'789CB3492FA8D0B7B319254749AA9200461DC4E1');
CREATE TABLE entry (
	id VARCHAR(26) NOT NULL, 
	subject_id VARCHAR(26) NOT NULL, 
	"key" TEXT NOT NULL, 
	value TEXT, 
	form VARCHAR(20) NOT NULL, 
	at VARCHAR(32) NOT NULL, 
	"by" TEXT NOT NULL, 
	why TEXT NOT NULL, 
	device TEXT NOT NULL, 
	row_hash VARCHAR(16) NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT entry_subject FOREIGN KEY(subject_id) REFERENCES subject (id)
);
INSERT INTO "entry" VALUES('066117aca244355bcbe23f5d13','066117aca240e1d38ba52b38a3','vehicle.name','Fen Hauler','typed','2026-11-25T10:56:08.721461Z','Ada','','','908e7214806968ee');
INSERT INTO "entry" VALUES('066117aca244367ae8aaa1af11','066117aca240e1d38ba52b38a3','vehicle.test_mass','1480 kg','typed','2026-11-25T10:56:08.721461Z','Ada','','','d20802643ac4003a');
INSERT INTO "entry" VALUES('066117aca248911284d2bbfaf5','066117aca247cd8035b25e5bc8','label','Loop, four laps','typed','2026-11-25T10:56:08.722577Z','Ada','','','c29ef5843eca6447');
INSERT INTO "entry" VALUES('066117aca24892ec298dfc5e5a','066117aca247cd8035b25e5bc8','weighing[0].when','before','typed','2026-11-25T10:56:08.722577Z','Ada','','','a64e9d4da3991dca');
INSERT INTO "entry" VALUES('066117aca2489302b9f19821e3','066117aca247cd8035b25e5bc8','weighing[0].gross[0]','16.605 kg','typed','2026-11-25T10:56:08.722577Z','Ada','','','295f317521f4c003');
INSERT INTO "entry" VALUES('066117aca2607f4bcf8a64537f','066117aca247cd8035b25e5bc8','@file.066117aca25fbb0ee42cbf80d0','{"name": "out.gpx", "role": "track", "sha256": "1d0675a981a7f4f8075900589948996ea14b3f174b36d98066c49686bb8975d4", "size": 600}','typed','2026-11-25T10:56:08.728703Z','Ada','','','758d1e50730c5c6c');
INSERT INTO "entry" VALUES('066117aca2608031f2ac79ca36','066117aca247cd8035b25e5bc8','track[0]','out.gpx','string','2026-11-25T10:56:08.728703Z','Ada','','','50cd22e4a1660c9f');
CREATE TABLE subject (
	id VARCHAR(26) NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT subject_kind_known CHECK (kind IN ('vehicle', 'instrument', 'fuel', 'route', 'run'))
);
INSERT INTO "subject" VALUES('066117aca240e1d38ba52b38a3','vehicle');
INSERT INTO "subject" VALUES('066117aca247cd8035b25e5bc8','run');
CREATE TABLE writer (
	revision VARCHAR(8) NOT NULL, 
	program VARCHAR(40) NOT NULL, 
	at VARCHAR(32) NOT NULL, 
	PRIMARY KEY (revision)
);
INSERT INTO "writer" VALUES('0001','0.1.0','2026-11-25T10:56:08.698653Z');
CREATE INDEX entry_newest ON entry (subject_id, "key", id);
CREATE INDEX entry_by_key ON entry ("key", subject_id, id);
CREATE TRIGGER subject_no_update BEFORE UPDATE ON subject BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER subject_no_delete BEFORE DELETE ON subject BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER subject_no_replace BEFORE INSERT ON subject WHEN EXISTS (SELECT 1 FROM subject WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER entry_no_replace BEFORE INSERT ON entry WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER blob_no_update BEFORE UPDATE ON blob BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER blob_no_delete BEFORE DELETE ON blob BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER blob_no_replace BEFORE INSERT ON blob WHEN EXISTS (SELECT 1 FROM blob WHERE sha256 = NEW.sha256) BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER writer_no_update BEFORE UPDATE ON writer BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER writer_no_delete BEFORE DELETE ON writer BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
CREATE TRIGGER writer_no_replace BEFORE INSERT ON writer WHEN EXISTS (SELECT 1 FROM writer WHERE revision = NEW.revision) BEGIN SELECT RAISE(ABORT, 'what the logbook holds is never changed: add a correction instead'); END;
COMMIT;
