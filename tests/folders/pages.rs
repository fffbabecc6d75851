//! Where the structure of a database lies in its file: heads of pages, places of cells, heads of cells
//! (<https://sqlite.org/fileformat2.html>, sections 1.3 and 1.6).

/// Positions of all bytes that say where something is, rather than what it is.
pub fn structure(file: &[u8]) -> Vec<usize> {
    let two = |at: usize| usize::from(u16::from_be_bytes([file[at], file[at + 1]]));
    let page_bytes = two(16);
    let mut found = Vec::new();
    for page in (0..file.len()).step_by(page_bytes) {
        // The first page begins with the head of the file.
        let head = if page == 0 { 100 } else { page };
        let (head_bytes, cell_head_bytes) = match file[head] {
            // Inner pages: a child of four bytes and a key; leaves: a length and a key.
            2 | 5 => (12, 6),
            10 | 13 => (8, 4),
            _ => continue,
        };
        let cells = two(head + 3);
        let pointers = head + head_bytes..head + head_bytes + 2 * cells;
        found.extend(head..pointers.end);
        for pointer in pointers.step_by(2) {
            let cell = page + two(pointer);
            found.extend(cell..(cell + cell_head_bytes).min(page + page_bytes));
        }
    }
    found
}
