//! The search for the last good state, wherever not all of a history may be taken.

/// How many states before one that does not pass are tried one by one.
const ONE_BY_ONE: usize = 8;

/// The newest of some commits, newest first, that passes: a few one by one, further back in steps that double and then by
/// halves, since each is judged as a whole book. What once came in and was mended, and came in again, may hide a newer one
/// that far back.
pub(super) fn newest<T: Copy, E>(
    candidates: &[T],
    mut passes: impl FnMut(T) -> Result<bool, E>,
) -> Result<Option<T>, E> {
    let (mut bad, mut good, mut at) = (0, None, 0);
    while let Some(id) = candidates.get(at) {
        if passes(*id)? {
            good = Some(at);
            break;
        }
        bad = at;
        let step = if at < ONE_BY_ONE { 1 } else { at };
        // The oldest is tried before it is said that none passes.
        at = if at + 1 < candidates.len() { (at + step).min(candidates.len() - 1) } else { candidates.len() };
    }
    let Some(mut good) = good else { return Ok(None) };
    while good > bad + 1 {
        let middle = bad + (good - bad) / 2;
        if passes(candidates[middle])? {
            good = middle;
        } else {
            bad = middle;
        }
    }
    Ok(Some(candidates[good]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_that_passes_is_found_with_few_tries() {
        for count in [0, 1, 2, 7, 8, 9, 10, 17, 100, 255] {
            let all: Vec<usize> = (0..count).collect();
            for first_good in 0..=count {
                let mut tries = 0;
                let found = newest(&all, |id| {
                    tries += 1;
                    Ok::<_, ()>(id >= first_good)
                });
                assert_eq!(found, Ok((first_good < count).then_some(first_good)), "{first_good} of {count}");
                assert!(tries <= 9 + 2 * 8, "{tries} tries for {first_good} of {count}");
            }
        }
    }

    #[test]
    fn of_the_last_few_each_is_tried() {
        let all: Vec<usize> = (0..40).collect();
        for lone in 0..=ONE_BY_ONE {
            assert_eq!(newest(&all, |id| Ok::<_, ()>(id == lone)), Ok(Some(lone)));
        }
    }

    #[test]
    fn what_keeps_the_judge_from_judging_ends_it() {
        assert_eq!(newest(&[3], |_| Err("the disk is full")), Err("the disk is full"));
    }
}
