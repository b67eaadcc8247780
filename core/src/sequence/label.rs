//! What the label of an item that is no GPC names: it is a person's own words.

/// The pairs a label names, grapheme and phonemes as they stand in it: `ed`, `ɪ d` and `a_e`, `eɪ` of `review of ed
/// /ɪ d/ and a_e /eɪ/`.
pub(crate) fn pairs(label: &str) -> Vec<(String, &str)> {
    let parts: Vec<&str> = label.split('/').collect();
    let pair = |pair: &[&'_ str]| {
        // "c stands for /s/" names a pair as well as "c /s/" does.
        let before = pair[0].trim().trim_end_matches("stands for");
        before.split_whitespace().last().map(str::to_lowercase)
    };
    parts.chunks_exact(2).filter_map(|of| Some((pair(of)?, of[1].trim()))).collect()
}

/// Whether a label ends with a title, as `review of Step 3` does.
pub(crate) fn ends_with(label: &str, title: &str) -> bool {
    let label = label.to_lowercase();
    let before = label.strip_suffix(&title.to_lowercase());
    before.is_some_and(|rest| !rest.ends_with(char::is_alphanumeric))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_are_read_out_of_a_persons_words() {
        let read = |label: &str| -> Vec<String> {
            pairs(label).into_iter().map(|(grapheme, phonemes)| format!("{grapheme}:{phonemes}")).collect()
        };
        assert_eq!(read("review of ed /ɪ d/ and a_e /eɪ/"), ["ed:ɪ d", "a_e:eɪ"]);
        assert_eq!(read("C stands for /s/"), ["c:s"]);
        assert_eq!(read("all so far"), Vec::<String>::new());
        assert!(ends_with("review of Step 3", "step 3") && !ends_with("review of Step 13", "3"));
    }
}
