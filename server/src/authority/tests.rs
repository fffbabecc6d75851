//! Authority and certificate: made once, kept while they are good, never replaced by mistake.

use super::*;
use crate::folder::LockedFolder;
use std::os::unix::fs::PermissionsExt as _;

const NOW_US: i64 = 1_773_831_600_000_000;
const DAY_US: i64 = 86_400_000_000;

fn folder() -> (tempfile::TempDir, LockedFolder) {
    let home = tempfile::tempdir().unwrap();
    let folder = Folder::create(&home.path().join("site")).unwrap();
    (home, folder)
}

fn leaf(certified: &CertifiedKey) -> Vec<u8> {
    certified.end_entity_cert().unwrap().to_vec()
}

#[test]
fn an_authority_is_made_once_and_found_again() {
    let (_home, folder) = folder();
    let made = Authority::open(&folder, NOW_US).unwrap();
    let found = Authority::open(&folder, NOW_US + 9_000 * DAY_US).unwrap();
    assert_eq!(made.pem(), found.pem());
    let certificate = CertificateDer::from_pem_slice(made.pem().as_bytes()).unwrap();
    assert_eq!(digest_of(folder.path()).unwrap(), authority_digest(&certificate));
}

#[test]
fn keys_are_readable_by_this_user_only() {
    let (_home, folder) = folder();
    let authority = Authority::open(&folder, NOW_US).unwrap();
    authority.server_certificate(&Names::of_machine(&[]), NOW_US).unwrap();
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    let tls = folder.path().join(TLS);
    assert_eq!(mode(&tls), 0o700);
    for name in [AUTHORITY, AUTHORITY_KEY, SERVER, SERVER_KEY] {
        assert_eq!(mode(&tls.join(name)), 0o600, "{name}");
    }
}

#[test]
fn a_certificate_is_kept_until_thirty_days_before_its_end() {
    let (_home, folder) = folder();
    let authority = Authority::open(&folder, NOW_US).unwrap();
    let names = Names::of_machine(&[]);
    let at = |day: i64| authority.server_certificate(&names, NOW_US + day * DAY_US).unwrap();
    let first = at(0);
    assert_eq!(authority.ends(&first), Some(u64::try_from((NOW_US + 90 * DAY_US) / 1_000_000).unwrap()));
    assert_eq!(leaf(&at(59)), leaf(&first));
    let second = at(61);
    assert_ne!(leaf(&second), leaf(&first));
    assert_eq!(leaf(&at(61 + 59)), leaf(&second));
}

#[test]
fn another_name_or_a_clock_that_was_wrong_makes_a_new_certificate() {
    let (_home, folder) = folder();
    let authority = Authority::open(&folder, NOW_US).unwrap();
    let (few, more) = (Names::of_machine(&[]), Names::of_machine(&["shop.lane".to_owned()]));
    let first = authority.server_certificate(&few, NOW_US).unwrap();
    let named = authority.server_certificate(&more, NOW_US).unwrap();
    assert_ne!(leaf(&named), leaf(&first));
    // A name less is no reason: the certificate still says nothing that was not so.
    assert_eq!(leaf(&authority.server_certificate(&few, NOW_US).unwrap()), leaf(&named));
    let put_right = authority.server_certificate(&few, NOW_US - 4_000 * DAY_US).unwrap();
    assert_ne!(leaf(&put_right), leaf(&named));
}

#[test]
fn a_certificate_that_fits_no_key_or_no_authority_is_made_anew() {
    let (_home, folder) = folder();
    let (_other_home, other) = self::folder();
    let names = Names::of_machine(&[]);
    let foreign = Authority::open(&other, NOW_US).unwrap();
    foreign.server_certificate(&names, NOW_US).unwrap();
    let authority = Authority::open(&folder, NOW_US).unwrap();
    let first = authority.server_certificate(&names, NOW_US).unwrap();
    let (own, of_other) = (folder.path().join(TLS), other.path().join(TLS));
    fs::copy(of_other.join(SERVER_KEY), own.join(SERVER_KEY)).unwrap();
    let second = authority.server_certificate(&names, NOW_US).unwrap();
    assert_ne!(leaf(&second), leaf(&first));
    fs::copy(of_other.join(SERVER), own.join(SERVER)).unwrap();
    fs::copy(of_other.join(SERVER_KEY), own.join(SERVER_KEY)).unwrap();
    let third = authority.server_certificate(&names, NOW_US).unwrap();
    assert!(authority.is_good(&third, &names, NOW_US) && !foreign.is_good(&third, &names, NOW_US));
}

#[test]
fn an_authority_without_its_key_or_cut_short_is_never_made_anew() {
    let (_home, folder) = folder();
    Authority::open(&folder, NOW_US).unwrap();
    let tls = folder.path().join(TLS);
    let whole = fs::read(tls.join(AUTHORITY)).unwrap();
    fs::write(tls.join(AUTHORITY), &whole[..whole.len() / 2]).unwrap();
    assert!(matches!(Authority::open(&folder, NOW_US), Err(ServerError::Keys { .. })));
    fs::write(tls.join(AUTHORITY), &whole).unwrap();
    fs::remove_file(tls.join(AUTHORITY_KEY)).unwrap();
    let error = Authority::open(&folder, NOW_US).err().unwrap().to_string();
    assert!(error.contains("authority-key.pem") && error.contains("backup"), "{error}");
}

#[test]
fn a_missing_certificate_is_taken_back_from_the_chain_and_no_key_is_replaced() {
    let (_home, folder) = folder();
    let (_other_home, other) = self::folder();
    let names = Names::of_machine(&[]);
    let authority = Authority::open(&folder, NOW_US).unwrap();
    authority.server_certificate(&names, NOW_US).unwrap();
    Authority::open(&other, NOW_US).unwrap().server_certificate(&names, NOW_US).unwrap();
    let (tls, of_other) = (folder.path().join(TLS), other.path().join(TLS));
    let key = fs::read(tls.join(AUTHORITY_KEY)).unwrap();

    fs::remove_file(tls.join(AUTHORITY)).unwrap();
    let found = Authority::open(&folder, NOW_US + DAY_US).unwrap();
    assert_eq!(found.pem(), authority.pem());
    assert_eq!(fs::read_to_string(tls.join(AUTHORITY)).unwrap(), authority.pem());

    fs::remove_file(tls.join(AUTHORITY)).unwrap();
    for chain in [fs::read(of_other.join(SERVER)).unwrap(), b"no chain".to_vec()] {
        fs::write(tls.join(SERVER), chain).unwrap();
        let error = Authority::open(&folder, NOW_US).err().unwrap().to_string();
        assert!(error.contains("authority.pem") && error.contains("backup"), "{error}");
        assert_eq!(fs::read(tls.join(AUTHORITY_KEY)).unwrap(), key);
    }
    // Without any chain the key was never used: a certificate is made for it.
    fs::remove_file(tls.join(SERVER)).unwrap();
    Authority::open(&folder, NOW_US).unwrap();
    assert_eq!(fs::read(tls.join(AUTHORITY_KEY)).unwrap(), key);

    fs::copy(of_other.join(SERVER), tls.join(SERVER)).unwrap();
    for name in [AUTHORITY, AUTHORITY_KEY] {
        fs::remove_file(tls.join(name)).unwrap();
    }
    assert!(Authority::open(&folder, NOW_US).is_err(), "stations trust one that is gone");
}
