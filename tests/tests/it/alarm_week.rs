//! A week of twenty stalls with its people, as the benchmark plays six of them: what is asked here is what must never get worse.

use bellmare_tests::alarm_week::{Counts, score, week};
use bellmare_tests::water_world::{Season, World};

#[test]
fn a_manager_gets_few_messages_and_nothing_is_missed() {
    let mut normal = Counts::default();
    let mut faulty = Counts::default();
    for (seed, season) in [(91, Season::Summer), (92, Season::Winter)] {
        let world = World::new(seed, season, 20, 7).with_mishaps(0.1);
        score(&week(&world, seed, 2), &mut normal);
        let world = World::new(seed, season, 20, 4);
        score(&week(&world, seed, 5), &mut faulty);
    }
    assert!(normal.needed > 1 && faulty.needed > 10, "{} and {}", normal.needed, faulty.needed);
    assert_eq!(normal.missed, Vec::<String>::new());
    assert_eq!(faulty.missed, Vec::<String>::new());
    assert!(normal.manager.len() <= 14, "over one a day: {:#?}", normal.manager);
    assert!(normal.digests <= 14);
    assert!(normal.most_in_ten_min <= 3 && faulty.most_in_ten_min <= 3, "{normal:?}");
}
