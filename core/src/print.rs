//! How much of a list fits on paper: estimated, on the wide side, from the letters alone, so that
//! what is printed keeps to its sheet whatever names there are.

/// Width of a text in hundredths of its size in points (an em), taken wide: letters of the scripts that
/// are set in squares, and pictures, count as a whole em and more.
#[must_use]
pub fn width(text: &str) -> usize {
    let of = |c: char| match c {
        'i' | 'j' | 'l' | 't' | 'f' | 'r' | ' ' | '.' | ',' | '\'' | '/' | ':' | '-' => 36,
        'm' | 'w' | 'M' | 'W' | '@' => 95,
        'A'..='Z' => 72,
        '\0'..='\u{218f}' => 56,
        _ => 130,
    };
    text.chars().map(of).sum()
}

/// Lines a text takes where a line is so wide; at least one. Words wrap, and one that is wider than a
/// line is broken.
#[must_use]
pub fn lines(text: &str, line: usize) -> usize {
    let (mut lines, mut at) = (1, 0);
    for word in text.split(' ') {
        let long = width(word);
        let gap = if at == 0 { 0 } else { width(" ") };
        if at + gap + long <= line {
            at += gap + long;
            continue;
        }
        lines += usize::from(at > 0) + long.saturating_sub(1) / line.max(1);
        at = long - long.saturating_sub(1) / line.max(1) * line;
    }
    lines
}

/// A list as written: a label, its first entries with commas, and how many more there are.
#[must_use]
pub fn written(label: &str, entries: &[String], shown: usize) -> String {
    let shown = shown.min(entries.len());
    let more = if shown == entries.len() { String::new() } else { and_more(entries.len() - shown) };
    format!("{label}: {}{more}", entries[..shown].join(", "))
}

/// How many entries of a list fit, as written, in so many lines.
#[must_use]
pub fn fitting(label: &str, entries: &[String], line: usize, most: usize) -> usize {
    let fits = |shown: &usize| lines(&written(label, entries, *shown), line) <= most;
    (0..=entries.len()).rev().find(fits).unwrap_or(0)
}

/// How many of a column's entries fit in so much height, each with its own, together with the line that says
/// how many more there are.
#[must_use]
pub fn stacked(heights: &[usize], more: usize, room: usize) -> usize {
    let fits = |shown: &usize| {
        let more = if *shown < heights.len() { more } else { 0 };
        heights[..*shown].iter().sum::<usize>() + more <= room
    };
    (0..=heights.len()).rev().find(fits).unwrap_or(0)
}

/// What stands for entries left out.
#[must_use]
pub fn and_more(left_out: usize) -> String {
    format!(" and {left_out} more")
}

/// Shares height out among the parts of a sheet, each with the height it needs at least and those it has use
/// for: everybody has the least first, and what is left goes to the parts in their order.
#[must_use]
pub fn share(height: usize, parts: &[(usize, usize)]) -> Vec<usize> {
    let mut given: Vec<usize> = parts.iter().map(|(least, wanted)| *least.min(wanted)).collect();
    let mut left = height.saturating_sub(given.iter().sum());
    for (has, (_, wanted)) in given.iter_mut().zip(parts) {
        let more = (wanted - *has).min(left);
        *has += more;
        left -= more;
    }
    given
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(list: &[&str]) -> Vec<String> {
        list.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn wider_letters_take_more() {
        // c, a, t is 56 + 56 + 36.
        assert_eq!(width("cat"), 148);
        assert!(width("王欣怡") > width("abcde"));
        assert!(width("Star ⭐") > width("Star a"));
    }

    #[test]
    fn words_wrap_and_what_is_too_wide_is_broken() {
        // Each of these words is 112 wide, a gap 36: two make 260.
        assert_eq!(lines("ab cd", 260), 1);
        assert_eq!(lines("ab cd", 259), 2);
        assert_eq!(lines("ab cd eg", 260), 2);
        assert_eq!(lines("", 100), 1);
        // 560 wide in lines of 250: three.
        assert_eq!(lines("abcdeghknp", 250), 3);
        assert_eq!(lines("ab abcdeghknp", 250), 4);
    }

    #[test]
    fn what_is_left_out_is_counted_within_the_lines() {
        let list = words(&["cab", "dab", "gap", "nap", "cad", "had", "pan", "ban"]);
        assert_eq!(fitting("Read", &list, 10_000, 1), 8);
        assert_eq!(written("Read", &list, 2), "Read: cab, dab and 6 more");
        assert_eq!(written("Read", &list, 8), "Read: cab, dab, gap, nap, cad, had, pan, ban");
        // "and 6 more" has to fit too, not the two words alone.
        let line = width("Read: cab, dab and 6 more");
        assert_eq!((fitting("Read", &list, line, 1), fitting("Read", &list, line - 1, 1)), (2, 1));
        assert_eq!(fitting("Read", &[], 1000, 1), 0);
        // 10 + 20 + 10 and no line for more; one less, and two fit with it.
        assert_eq!([40, 39, 15, 9].map(|room| stacked(&[10, 20, 10], 5, room)), [3, 2, 1, 0]);
    }

    #[test]
    fn the_least_comes_before_the_rest_in_order() {
        assert_eq!(share(20, &[(2, 30), (1, 4), (1, 4)]), [18, 1, 1]);
        assert_eq!(share(20, &[(2, 10), (1, 4), (1, 9)]), [10, 4, 6]);
        assert_eq!(share(20, &[(2, 1), (1, 0), (1, 1)]), [1, 0, 1]);
    }
}
