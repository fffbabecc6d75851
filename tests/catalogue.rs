//! The catalogue as the office keeps it: checked, compared, imported and taken out again with the real program, on the
//! demo's folder and on one that is different from it.

use standpipe_server::{Role, check_catalogue};
use standpipe_tests::programs;
use standpipe_tests::site::{Site, catalogue};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The demo's catalogue with a changed serial boundary, a changed torque, a new variant and a line less.
fn changed() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("support/catalogue-changed")
}

fn verb(arguments: &[&str]) -> Output {
    Command::new(programs::server()).arg("catalogue").args(arguments).output().unwrap()
}

fn said(output: &Output) -> (Option<i32>, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

fn path(folder: &Path) -> &str {
    folder.to_str().unwrap()
}

/// The demo's files with what the other folder has otherwise.
fn with_changes() -> Vec<(String, String)> {
    let read = |name: &str| fs::read_to_string(catalogue().join(name)).unwrap();
    let mut alder = read("alder-8.toml");
    let mut change = |from: &str, to: &str| {
        assert_eq!(alder.matches(from).count(), 1, "{from}");
        alder = alder.replace(from, to);
    };
    change("serial_to = 37999", "serial_to = 38499");
    change("serial_from = 38000", "serial_from = 38500");
    change("standpipe_label = \"short\"\n", "");
    let (first, second) = alder.split_once("code = \"A8-II\"").unwrap();
    let torque = ("plug_torque_newton_metres = 22.0", "plug_torque_newton_metres = 24.0");
    let mut alder = format!("{first}code = \"A8-II\"{}", second.replacen(torque.0, torque.1, 1));
    alder.push_str(THIRD);
    vec![("alder-8.toml".to_owned(), alder), ("workshop.toml".to_owned(), read("workshop.toml"))]
}

const THIRD: &str = r#"
[[variant]]
code = "A8-III"
label = "third series"
fluid_code = "LN-847"
fluid_name = "Linden"
density_at_15_celsius_kilograms_per_cubic_metre = 847.0
total_fill_litres = 9.2
filter_code = "F8-20"
standpipe_code = "SP-70"
plate_code = "A8 0341"
level_from_celsius = 40.0
level_to_celsius = 50.0
level_method = "standpipe_overflow"

[[variant.vin_rule]]
code = "Alder-8 III, model years R and S"
pattern = "AZT*A8[M-N]**[RS]A******"
entered_by = "office B"
"#;

#[test]
fn the_changed_catalogue_is_the_demo_s_with_four_changes() {
    let update = std::env::var("STANDPIPE_SNAPSHOT").is_ok_and(|it| it == "update");
    for (name, text) in with_changes() {
        let file = changed().join(&name);
        if update {
            fs::create_dir_all(changed()).unwrap();
            fs::write(&file, &text).unwrap();
        }
        let kept = fs::read_to_string(&file).unwrap_or_default();
        assert!(
            kept == text,
            "{name} is not the demo's with the four changes; STANDPIPE_SNAPSHOT=update writes it"
        );
    }
}

#[test]
fn check_counts_a_sound_folder_and_says_what_is_left_out_and_what_that_means() {
    let (exit, out, err) = said(&verb(&["check", path(&catalogue())]));
    assert_eq!((exit, err.as_str()), (Some(0), ""), "{out}");
    let id = check_catalogue(&catalogue()).unwrap().revision.id().to_string();
    for part in [
        id.as_str(),
        "VIN rules",
        "Rules of unlike variants that fit the same VIN: none",
        "Serial numbers in no window: none",
    ] {
        assert!(out.contains(part), "{part}: {out}");
    }
    let json: serde_json::Value =
        serde_json::from_slice(&verb(&["check", path(&changed()), "--output", "json"]).stdout).unwrap();
    assert_eq!(
        (&json["variants"], &json["vin_rules"], &json["fluids"]),
        (&3.into(), &5.into(), &2.into()),
        "{json}"
    );
    let left_out = json["left_out"].to_string();
    for part in [
        "A8-III: no torque for the level plug; the bay sheet will say: see the vehicle maker",
        "A8-III: no interval of the vehicle maker",
    ] {
        assert!(left_out.contains(part), "{part}: {left_out}");
    }
}

#[test]
fn a_broken_folder_is_refused_with_every_mistake_by_file_line_key_and_expectation() {
    let folder = tempfile::tempdir().unwrap();
    let files = with_changes();
    let broken = files[0].1.replace("total_fill_litres = 9.2", "total_fill_quarts = 9.7").replace(
        "pattern = \"AZT*A8[M-N]**[RS]A******\"\nentered_by = \"office B\"",
        "pattern = \"AZT*A8[M-N]**[RS]A*****\"",
    );
    let line = |text: &str| broken.lines().position(|line| line.contains(text)).unwrap() + 1;
    fs::write(folder.path().join("alder-8.toml"), &broken).unwrap();
    fs::write(folder.path().join("workshop.toml"), "name = \"Harbour Lane\"\n").unwrap();
    let (exit, out, err) = said(&verb(&["check", path(folder.path())]));
    assert_eq!((exit, out.as_str()), (Some(65), ""), "{err}");
    let table = line("code = \"A8-III\"") - 1;
    for part in [
        "the catalogue has 4 mistake(s)".to_owned(),
        format!("alder-8.toml:{table}: variant[3].total_fill_litres is missing; add it"),
        format!("alder-8.toml:{}: variant[3].total_fill_quarts is not known here", line("total_fill_quarts")),
        "; known is total_fill_litres".to_owned(),
        "variant[3].vin_rule[1].pattern must have 17 places, found 16".to_owned(),
        "variant[3].vin_rule[1].entered_by is missing; add it".to_owned(),
    ] {
        assert!(err.contains(&part), "{part}: {err}");
    }
    // A wider window and a window too late: worth a look, but no mistake.
    let overlapping = files[0].1.replace("serial_from = 38500", "serial_from = 38000");
    let open = files[0].1.replace("serial_from = 38500", "serial_from = 39000");
    for (text, part) in [
        (overlapping, "both fit AZTAA8M"),
        (open, "serial numbers 038500 to 038999 lie between its windows and in none, for example AZTAA8M"),
    ] {
        fs::write(folder.path().join("alder-8.toml"), text).unwrap();
        let (exit, out, _) = said(&verb(&["check", path(folder.path())]));
        assert!(exit == Some(0) && out.contains(part), "{part}: {out}");
    }
}

#[test]
fn diff_says_what_changed_in_words_and_which_vins_are_decided_otherwise() {
    let (exit, out, err) = said(&verb(&["diff", path(&catalogue()), path(&changed())]));
    assert_eq!((exit, err.as_str()), (Some(0), ""), "{out}");
    for part in [
        "A8-I, Alder-8, first series\n",
        "removed  standpipe label: short",
        "changed  VIN rule ‘Alder-8 I, serial up to 037999’, serial to: 37999, now 38499",
        "A8-II, Alder-8, second series\n",
        "changed  plug torque: 22.0 N·m, now 24.0 N·m",
        "A8-III, Alder-8, third series: not in the old one; it is",
        "  total fill: 9.2 L",
        "A8-II, now A8-I\n",
        "no rule, now A8-III\n",
    ] {
        assert!(out.contains(part), "{part}: {out}");
    }
    let json: serde_json::Value = serde_json::from_slice(
        &verb(&["diff", path(&catalogue()), path(&changed()), "--output", "json"]).stdout,
    )
    .unwrap();
    let (old, new) =
        (check_catalogue(&catalogue()).unwrap().revision, check_catalogue(&changed()).unwrap().revision);
    let vins = json["vins"].as_array().unwrap();
    assert_eq!(vins.len(), 2, "{json}");
    for vin in vins {
        let read = standpipe_engine::formula::vin::Vin::from_exact(vin["vin"].as_str().unwrap()).unwrap();
        for (revision, key) in [(&old, "before"), (&new, "now")] {
            let codes: Vec<_> =
                revision.match_vin(&read).variants.iter().map(|it| it.code.as_str()).collect();
            assert_eq!(vin[key], serde_json::json!(codes), "{vin}");
        }
    }
    let same = said(&verb(&["diff", path(&catalogue()), path(&catalogue())])).1;
    assert!(same.contains("the same files"), "{same}");
}

// The program's verbs are waited for while the server answers them.
#[tokio::test(flavor = "multi_thread", worker_threads = 3)]
async fn a_revision_is_compared_and_taken_out_byte_for_byte_also_while_the_server_runs() {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let server = site.serve().await;
    let dir = site.dir();
    let (first, second) = (catalogue(), changed());
    let imported = said(&verb(&["import", path(&second), "--dir", path(&dir)]));
    assert_eq!(imported.0, Some(0), "{imported:?}");
    assert!(
        imported.2.contains("A8-III: no torque for the level plug; the bay sheet will say"),
        "{imported:?}"
    );
    let old = check_catalogue(&first).unwrap().revision.id();
    let (exit, out, _) = said(&verb(&["diff", &old.short(), path(&second), "--dir", path(&dir)]));
    assert!(exit == Some(0) && out.contains("plug torque: 22.0 N·m, now 24.0 N·m"), "{out}");
    let folder = tempfile::tempdir().unwrap();
    for (name, arguments, origin) in
        [("current", vec![], &second), ("first", vec!["--revision".to_owned(), old.short()], &first)]
    {
        let to = folder.path().join(name);
        let mut line = vec!["export", path(&to), "--dir", path(&dir)];
        line.extend(arguments.iter().map(String::as_str));
        let exported = said(&verb(&line));
        assert_eq!(exported.0, Some(0), "{exported:?}");
        for file in ["alder-8.toml", "workshop.toml"] {
            assert_eq!(
                fs::read(to.join(file)).unwrap(),
                fs::read(origin.join(file)).unwrap(),
                "{name} {file}"
            );
        }
        let again = said(&verb(&line));
        assert!(again.0 == Some(65) && again.2.contains("is not empty"), "{again:?}");
    }
    let unknown = said(&verb(&[
        "export",
        path(&folder.path().join("none")),
        "--dir",
        path(&dir),
        "--revision",
        "00000000",
    ]));
    assert!(unknown.0 == Some(65) && unknown.2.contains("00000000 is kept here by no"), "{unknown:?}");
    assert!(!folder.path().join("none").exists());
    server.shutdown();
    server.join().await.unwrap();
}
