//! Particle codes: the ranges and the codes of the standard's table.

use standpipe_engine::formula::particles::{
    Code, Counted, ScaleNumber, UPPER_LIMITS_PER_MILLILITRE, scale_number,
};

use super::{Table, number, text};

#[test]
fn the_ranges_equal_every_row_of_the_table() {
    let table = Table::read("iso4406_ranges");
    let rows = table.content["rows"].as_array().expect("rows");
    assert_eq!((rows.len(), UPPER_LIMITS_PER_MILLILITRE.len()), (29, 29));
    for (place, row) in rows.iter().enumerate() {
        let code = u8::try_from(place).expect("a code");
        assert_eq!(row["code"].as_u64(), Some(u64::from(code)));
        let (more_than, up_to) = (number(row, "more_than"), number(row, "up_to"));
        assert_eq!(UPPER_LIMITS_PER_MILLILITRE[place], up_to);
        assert_eq!(scale_number(up_to), Some(ScaleNumber::Code(code)));
        // The lower limit is not included: it belongs to the code below, and nothing is below 0.
        let at_lower = scale_number(more_than).expect("a count");
        assert_eq!(at_lower, ScaleNumber::Code(code.saturating_sub(1)));
        assert_eq!(scale_number(more_than + 1e-6 * up_to), Some(ScaleNumber::Code(code)));
    }
}

#[test]
fn codes_equal_every_row_of_the_table() {
    let table = Table::read("iso4406_codes");
    let (mut single, mut triple) = (0, 0);
    for row in table.cases() {
        match text(row, "kind") {
            "code" => {
                let found = scale_number(number(row, "per_ml")).expect("a count");
                match row["code"].as_u64() {
                    Some(code) => assert_eq!(found, ScaleNumber::Code(u8::try_from(code).expect("a code"))),
                    None => assert_eq!(format!("{found}").replace('>', "> "), text(row, "text")),
                }
                single += 1;
            }
            "triple" => {
                let count = |at: usize| row["per_ml"][at].as_f64();
                let code = Code::new(Counted::Automatically, [count(0), count(1), count(2)]).expect("a code");
                assert_eq!(code.to_string(), text(row, "text"), "{}", row["id"]);
                triple += 1;
            }
            unknown => panic!("{}: unknown kind '{unknown}'", row["id"]),
        }
    }
    assert_eq!((single, triple), (22, 5));
}
