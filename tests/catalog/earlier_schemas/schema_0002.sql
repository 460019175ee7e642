-- A catalog of three releases and one withdrawn, as it stood when the schema's newest revision was schema_0002.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('schema_0002');
INSERT INTO "alembic_version" VALUES('test_0003');
CREATE TABLE alias (
	alias TEXT NOT NULL, 
	part TEXT NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_alias PRIMARY KEY (alias, since), 
	CONSTRAINT ck_alias_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "alias" VALUES('99-1','P-1',1,NULL);
CREATE TABLE attribute (
	part TEXT NOT NULL, 
	name TEXT NOT NULL, 
	value TEXT NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_attribute PRIMARY KEY (part, name, since), 
	CONSTRAINT ck_attribute_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "attribute" VALUES('E-1','thread','"M8x1.25"',1,NULL);
INSERT INTO "attribute" VALUES('E-1','hole_material','"aluminium"',1,NULL);
INSERT INTO "attribute" VALUES('P-1','rotation','"clockwise"',1,NULL);
INSERT INTO "attribute" VALUES('P-1','profile','"PK"',1,NULL);
INSERT INTO "attribute" VALUES('F-1','thread','"M8x1.25"',1,NULL);
INSERT INTO "attribute" VALUES('F-1','pieces','8',1,NULL);
CREATE TABLE band (
	part TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	start_at BIGINT NOT NULL, 
	end_at BIGINT NOT NULL, 
	surface TEXT NOT NULL, 
	grooves INTEGER NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_band PRIMARY KEY (part, place, since), 
	CONSTRAINT ck_band_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "band" VALUES('P-1',0,135000000,157000000,'ribbed',6,1,NULL);
CREATE TABLE connection (
	name TEXT NOT NULL, 
	title TEXT NOT NULL, 
	sort TEXT NOT NULL, 
	ends TEXT NOT NULL, 
	seal TEXT NOT NULL, 
	pieces_per_layer INTEGER NOT NULL, 
	gasket TEXT, 
	bolts INTEGER NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, size TEXT, 
	CONSTRAINT pk_connection PRIMARY KEY (name, since), 
	CONSTRAINT ck_connection_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "connection" VALUES('alder_block','Alder pump face','face','["block","pump"]','gasket',2,'G-1',8,1,NULL,NULL);
INSERT INTO "connection" VALUES('alder_hose','Alder hose','hose','["spigot","hose"]','clamp',1,NULL,0,2,3,'1 1/2 in hose');
INSERT INTO "connection" VALUES('alder_hose','Alder hose','hose','["spigot","hose"]','clamp',1,NULL,0,3,NULL,'1 3/4 in hose');
CREATE TABLE cue (
	part TEXT NOT NULL, 
	name TEXT NOT NULL, 
	question TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	answers TEXT NOT NULL, 
	ease TEXT NOT NULL, 
	error_percent INTEGER NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_cue PRIMARY KEY (part, name, since), 
	CONSTRAINT ck_cue_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "cue" VALUES('P-1','outlet_side','Which way does the outlet point?','left','["left","right"]','in_car',3,1,NULL);
CREATE TABLE measure (
	part TEXT NOT NULL, 
	name TEXT NOT NULL, 
	nominal BIGINT NOT NULL, 
	plus BIGINT NOT NULL, 
	minus BIGINT NOT NULL, 
	taken_with TEXT NOT NULL, 
	source TEXT NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_measure PRIMARY KEY (part, name, since), 
	CONSTRAINT ck_measure_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "measure" VALUES('E-1','hole_depth',30000000,100000,100000,'drawing','drawing',1,NULL);
INSERT INTO "measure" VALUES('G-1','thickness',1000000,100000,100000,'drawing','drawing',1,NULL);
INSERT INTO "measure" VALUES('P-1','belt_plane',146000000,100000,100000,'drawing','drawing',1,NULL);
INSERT INTO "measure" VALUES('P-1','cover_room',57000000,200000,200000,'caliper','bench',1,NULL);
INSERT INTO "measure" VALUES('P-1','flange_thickness',20000000,100000,100000,'drawing','drawing',1,NULL);
INSERT INTO "measure" VALUES('S-1','thickness',10000000,100000,100000,'drawing','drawing',1,NULL);
INSERT INTO "measure" VALUES('F-1','length',45000000,500000,500000,'drawing','drawing',1,NULL);
CREATE TABLE part (
	number TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	name TEXT NOT NULL, 
	status TEXT NOT NULL, 
	recommended BOOLEAN NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_part PRIMARY KEY (number, since), 
	CONSTRAINT ck_part_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "part" VALUES('E-1','engine','Alder block','active',0,1,NULL);
INSERT INTO "part" VALUES('G-1','gasket','Alder gasket','active',0,1,NULL);
INSERT INTO "part" VALUES('P-1','water_pump','Alder pump','active',1,1,2);
INSERT INTO "part" VALUES('S-1','spacer','Alder spacer','active',0,1,3);
INSERT INTO "part" VALUES('F-1','fastener_set','Bolts M8 x 45','active',0,1,NULL);
INSERT INTO "part" VALUES('P-1','water_pump','Pump, with a ''quote'' and 37°','active',1,2,NULL);
INSERT INTO "part" VALUES('S-1','spacer','Alder spacer','retired',0,3,NULL);
CREATE TABLE port (
	part TEXT NOT NULL, 
	name TEXT NOT NULL, 
	role TEXT NOT NULL, 
	connection TEXT NOT NULL, 
	"end" TEXT NOT NULL, 
	channel TEXT, 
	side TEXT, 
	direction TEXT, 
	wet BOOLEAN NOT NULL, 
	gasket TEXT, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_port PRIMARY KEY (part, name, since), 
	CONSTRAINT ck_port_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "port" VALUES('E-1','pump_face','pump_face','alder_block','block',NULL,NULL,NULL,0,NULL,1,NULL);
INSERT INTO "port" VALUES('P-1','mount','mount','alder_block','pump',NULL,NULL,NULL,1,NULL,1,NULL);
INSERT INTO "port" VALUES('P-1','outlet','coolant_out','alder_block','pump',NULL,'left',NULL,0,NULL,1,NULL);
INSERT INTO "port" VALUES('S-1','rear','mount','alder_block','pump',NULL,NULL,NULL,0,NULL,1,NULL);
INSERT INTO "port" VALUES('S-1','front','pump_face','alder_block','block',NULL,NULL,NULL,0,NULL,1,NULL);
CREATE TABLE price (
	part TEXT NOT NULL, 
	amount BIGINT NOT NULL, 
	currency TEXT NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_price PRIMARY KEY (part, since), 
	CONSTRAINT ck_price_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "price" VALUES('G-1',400,'USD',1,NULL);
INSERT INTO "price" VALUES('P-1',14900,'USD',1,2);
INSERT INTO "price" VALUES('P-1',15900,'USD',2,NULL);
CREATE TABLE release (
	number INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	digest TEXT NOT NULL, 
	published_on TEXT NOT NULL, 
	note TEXT NOT NULL, 
	currency TEXT NOT NULL, 
	status TEXT NOT NULL, 
	CONSTRAINT pk_release PRIMARY KEY (number), 
	CONSTRAINT uq_release_name UNIQUE (name), 
	CONSTRAINT ck_release_status CHECK (status IN ('published', 'withdrawn'))
);
INSERT INTO "release" VALUES(1,'release-1','sha256:a9e7670957171a2c3ba3feb89c50688468b0678af54aba439379a57c8bd98ee1','2026-01-01','','USD','published');
INSERT INTO "release" VALUES(2,'release-2','sha256:ef96300aa1efd840348b68722d9ce4d51b09e05a2b906cdcb6bdb6a237877bc9','2026-01-01','','USD','published');
INSERT INTO "release" VALUES(3,'release-3','sha256:efd0aec9912ad3e5c3c4dfab90398eef4fdae08ab0f94926935513a29a4e54cc','2026-01-01','','USD','published');
INSERT INTO "release" VALUES(4,'release-4','sha256:2c0c422dc8b9e9f25795be0364dfc6e6ee82dfbb2f8cb3c297273ea7dbe452af','2026-01-01','','USD','withdrawn');
CREATE TABLE rule (
	name TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	part TEXT NOT NULL, 
	others TEXT NOT NULL, 
	settles TEXT NOT NULL, 
	source TEXT NOT NULL, 
	since INTEGER NOT NULL, 
	until INTEGER, 
	CONSTRAINT pk_rule PRIMARY KEY (name, since), 
	CONSTRAINT ck_rule_until_after_since CHECK (until IS NULL OR until > since)
);
INSERT INTO "rule" VALUES('p1_on_s1','tested_fit','P-1','["S-1","S-1"]','["cover"]','bench',1,NULL);
INSERT INTO "rule" VALUES('replaced_s_1','replaced_by','S-1','["P-1"]','[]','',3,NULL);
CREATE UNIQUE INDEX uq_alias_open ON alias (alias) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_attribute_open ON attribute (part, name) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_band_open ON band (part, place) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_connection_open ON connection (name) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_cue_open ON cue (part, name) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_measure_open ON measure (part, name) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_part_open ON part (number) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_port_open ON port (part, name) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_price_open ON price (part) WHERE until IS NULL;
CREATE UNIQUE INDEX uq_rule_open ON rule (name) WHERE until IS NULL;
CREATE INDEX ix_alias_part ON alias (part);
COMMIT;
