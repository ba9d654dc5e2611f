//! In which rounds a tree is rendered, so that one dispatch takes many pictures and memory stays bounded.

use std::collections::HashSet;

use bytemuck::{Pod, Zeroable};

use super::Tree;

/// One picture of one dispatch: which layer it is read from and written to, as shaders take it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Pod, Zeroable)]
#[repr(C)]
pub struct Job {
    /// Layer of the picture before the effect.
    pub from_layer: u32,
    /// Layer of the picture after it.
    pub into_layer: u32,
}

/// One step of a schedule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Round {
    /// Applies one run of effects to pictures of one depth; the results are pictures of the next.
    Apply {
        /// Runs already applied to the pictures read.
        depth: usize,
        /// The effects, first applied first: places in the chain; one, unless the tree is fused.
        run: Vec<usize>,
        /// The pictures.
        jobs: Vec<Job>,
    },
    /// Whole chains stand in layers of one depth: they go on to the output.
    Finish {
        /// Runs applied to them.
        depth: usize,
        /// The effects that whole chains still lack there, which are applied in passing: mostly none.
        run: Vec<usize>,
        /// Layer and class of each.
        leaves: Vec<(u32, usize)>,
    },
}

/// A tree cut into rounds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Schedule {
    /// In the order of execution.
    pub rounds: Vec<Round>,
    /// Layers needed for the pictures of each depth from 1 on.
    pub layers: Vec<usize>,
}

impl Schedule {
    /// Breadth first where `capacity` layers hold a whole depth; otherwise each
    /// part of a depth is finished before the next part begins. The pictures do
    /// not depend on the capacity, only the number of rounds does.
    ///
    /// `capacity` is at least 1.
    pub fn of(tree: &Tree, capacity: usize) -> Self {
        Self::built(tree, capacity, false)
    }

    /// The same where whole chains that nothing goes on from are finished in passing: they take no layers.
    pub fn in_passing(tree: &Tree, capacity: usize) -> Self {
        Self::built(tree, capacity, true)
    }

    fn built(tree: &Tree, capacity: usize, in_passing: bool) -> Self {
        let mut classes = vec![Vec::new(); tree.nodes.len()];
        for (class, &leaf) in tree.leaves.iter().enumerate() {
            classes[leaf].push(class);
        }
        let mut building =
            Building { tree, classes, capacity: capacity.max(1), in_passing, rounds: Vec::new() };
        building.grow(&[(0, 0)], 0);
        let mut layers = vec![0; tree.depth()];
        for round in &building.rounds {
            if let Round::Apply { depth, jobs, .. } = round {
                let used = jobs.iter().map(|job| job.into_layer as usize + 1).max().unwrap_or(0);
                layers[*depth] = layers[*depth].max(used);
            }
        }
        while layers.last() == Some(&0) {
            layers.pop();
        }
        Self { rounds: building.rounds, layers }
    }

    /// The same rounds in parts of at most `most` pictures each (at least one), so that each is soon done.
    #[must_use]
    pub fn in_parts(self, most: usize) -> Self {
        let most = most.max(1);
        let part = |round: Round| -> Vec<Round> {
            match round {
                Round::Apply { depth, run, jobs } => {
                    let part = |jobs: &[Job]| Round::Apply { depth, run: run.clone(), jobs: jobs.to_vec() };
                    jobs.chunks(most).map(part).collect()
                }
                Round::Finish { depth, run, leaves } => {
                    let part =
                        |leaves: &[_]| Round::Finish { depth, run: run.clone(), leaves: leaves.to_vec() };
                    leaves.chunks(most).map(part).collect()
                }
            }
        };
        Self { rounds: self.rounds.into_iter().flat_map(part).collect(), ..self }
    }

    /// Whether a picture that lies `depth` runs behind the first one is made by an effect that `remembers`.
    pub fn has(&self, depth: usize, remembers: impl Fn(usize) -> bool) -> bool {
        self.rounds.iter().any(|round| match round {
            Round::Apply { depth: of, run, .. } => *of == depth && run.iter().any(|&at| remembers(at)),
            Round::Finish { .. } => false,
        })
    }

    /// The rounds, less every picture that no effect which `remembers` makes or is made from.
    ///
    /// Only for a schedule that holds every depth whole: there a layer stands for one picture.
    pub fn remembering(&self, remembers: impl Fn(usize) -> bool) -> Vec<Round> {
        let mut needed: HashSet<(usize, u32)> = HashSet::new();
        let mut rounds = Vec::new();
        for round in self.rounds.iter().rev() {
            let Round::Apply { depth, run, jobs } = round else { continue };
            let remembers = run.iter().any(|&at| remembers(at));
            let is_needed = |job: &&Job| remembers || needed.contains(&(depth + 1, job.into_layer));
            let jobs: Vec<Job> = jobs.iter().filter(is_needed).copied().collect();
            if !jobs.is_empty() {
                needed.extend(jobs.iter().map(|job| (*depth, job.from_layer)));
                rounds.push(Round::Apply { depth: *depth, run: run.clone(), jobs });
            }
        }
        rounds.reverse();
        rounds
    }

    /// The largest capacity for which the layers of all depths together stay
    /// within `budget` layers, where the last depth counts `last_weight` times.
    pub fn capacity_within(tree: &Tree, budget: usize, last_weight: usize) -> usize {
        let mut widths = vec![0_usize; tree.depth() + 1];
        let mut depths = vec![0; tree.nodes.len()];
        for (at, node) in tree.nodes.iter().enumerate() {
            widths[depths[at]] += 1;
            for &child in &node.children {
                depths[child] = depths[at] + 1;
            }
        }
        let needed = |capacity: usize| -> usize {
            let layers = widths.iter().skip(1).map(|&width| width.min(capacity));
            let last = widths.last().map_or(0, |&width| width.min(capacity));
            layers.sum::<usize>() + last * (last_weight - 1)
        };
        let (mut low, mut high) = (1, widths.iter().copied().max().unwrap_or(1).max(1));
        while low < high {
            let middle = (low + high).div_ceil(2);
            if needed(middle) <= budget { low = middle } else { high = middle - 1 }
        }
        low
    }
}

struct Building<'a> {
    tree: &'a Tree,
    classes: Vec<Vec<usize>>,
    capacity: usize,
    in_passing: bool,
    rounds: Vec<Round>,
}

impl Building<'_> {
    /// `pictures`: nodes and the layers that they stand in, all of one depth.
    fn grow(&mut self, pictures: &[(usize, u32)], depth: usize) {
        let leaves: Vec<(u32, usize)> = pictures
            .iter()
            .flat_map(|&(node, layer)| self.classes[node].iter().map(move |&class| (layer, class)))
            .collect();
        if !leaves.is_empty() {
            self.rounds.push(Round::Finish { depth, run: Vec::new(), leaves });
        }
        // (run, child, layer of its parent), by run, so that a dispatch takes many.
        let mut children: Vec<(&[usize], usize, u32)> = pictures
            .iter()
            .flat_map(|&(node, layer)| {
                let nodes = &self.tree.nodes;
                nodes[node].children.iter().map(move |&child| (&nodes[child].run[..], child, layer))
            })
            .collect();
        children.sort_unstable();
        if self.in_passing {
            let is_last =
                |&(_, child, _): &(&[usize], usize, u32)| self.tree.nodes[child].children.is_empty();
            let last: Vec<_> = children.iter().copied().filter(is_last).collect();
            children.retain(|child| !is_last(child));
            for part in last.chunks(self.capacity) {
                for run in part.chunk_by(|a, b| a.0 == b.0) {
                    let classes = |&(_, child, layer): &(_, usize, u32)| {
                        self.classes[child].iter().map(move |&class| (layer, class))
                    };
                    let leaves = run.iter().flat_map(classes).collect();
                    self.rounds.push(Round::Finish { depth, run: run[0].0.to_vec(), leaves });
                }
            }
        }
        for part in children.chunks(self.capacity) {
            let made: Vec<(usize, u32)> =
                part.iter().zip(0..).map(|(&(_, child, _), layer)| (child, layer)).collect();
            let mut at = 0;
            for run in part.chunk_by(|a, b| a.0 == b.0) {
                let jobs = run
                    .iter()
                    .zip(at..)
                    .map(|(&(_, _, from_layer), into_layer)| Job { from_layer, into_layer })
                    .collect();
                at += run.len() as u32;
                self.rounds.push(Round::Apply { depth, run: run[0].0.to_vec(), jobs });
            }
            self.grow(&made, depth + 1);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use super::super::Classes;
    use super::*;

    fn five() -> Tree {
        Tree::of(&Classes::new((0..5).collect(), |_, _| false).all(), |_| false)
    }

    #[test]
    fn with_room_enough_a_wall_takes_effects_times_depth_dispatches() {
        let schedule = Schedule::of(&five(), 120);
        let dispatches = schedule.rounds.iter().filter(|r| matches!(r, Round::Apply { .. })).count();
        assert_eq!(dispatches, 25);
        assert_eq!(schedule.layers, [5, 20, 60, 120, 120]);
    }

    #[test]
    fn any_capacity_finishes_every_class_once_and_keeps_to_its_layers() {
        for capacity in [1, 2, 3, 7, 119] {
            let schedule = Schedule::of(&five(), capacity);
            let mut finished: Vec<usize> = Vec::new();
            let mut passes = 0;
            for round in &schedule.rounds {
                match round {
                    Round::Finish { leaves, .. } => finished.extend(leaves.iter().map(|&(_, class)| class)),
                    Round::Apply { jobs, .. } => passes += jobs.len(),
                }
            }
            finished.sort_unstable();
            assert_eq!(finished, (0..120).collect::<Vec<_>>());
            assert_eq!(passes, 325);
            assert!(schedule.layers.iter().all(|&layers| layers <= capacity));
        }
    }

    #[test]
    fn chains_finished_in_passing_take_no_layers_and_are_the_same_chains() {
        // A chain that is a part of another ends where others go on.
        let mut orders = Classes::new((0..4).collect(), |_, _| false).all();
        orders.push(super::super::Class { order: vec![2, 0] });
        let tree = Tree::of(&orders, |_| false);
        // For each class, the effects applied to it in turn.
        let chains = |schedule: &Schedule| {
            let mut standing: Vec<HashMap<u32, Vec<usize>>> = vec![HashMap::from([(0, Vec::new())])];
            standing.resize(tree.depth() + 1, HashMap::new());
            let mut chains = vec![Vec::new(); orders.len()];
            for round in &schedule.rounds {
                match round {
                    Round::Apply { depth, run, jobs } => {
                        for job in jobs {
                            let chain = [&standing[*depth][&job.from_layer][..], run].concat();
                            standing[depth + 1].insert(job.into_layer, chain);
                        }
                    }
                    Round::Finish { depth, run, leaves } => {
                        for (layer, class) in leaves {
                            chains[*class] = [&standing[*depth][layer][..], run].concat();
                        }
                    }
                }
            }
            chains
        };
        let wanted: Vec<Vec<usize>> = orders.iter().map(|class| class.order.clone()).collect();
        for capacity in [1, 3, 5, 100] {
            let schedule = Schedule::in_passing(&tree, capacity);
            assert_eq!(chains(&schedule), wanted);
            assert_eq!(chains(&Schedule::of(&tree, capacity)), wanted);
            assert_eq!(schedule.layers.len(), 3, "the last depth is not stored");
        }
    }

    #[test]
    fn a_budget_is_kept_where_it_can_be() {
        let tree = five();
        for budget in [5, 10, 100, 325, 1000] {
            let capacity = Schedule::capacity_within(&tree, budget, 1);
            let used: usize = Schedule::of(&tree, capacity).layers.iter().sum();
            assert!(used <= budget.max(5), "{used} layers for a budget of {budget}");
        }
    }

    #[test]
    fn parts_of_rounds_are_the_same_pictures_in_the_same_order() {
        let whole = Schedule::of(&five(), 120);
        for most in [1, 7, 1000] {
            let parts = whole.clone().in_parts(most);
            assert_eq!(parts.layers, whole.layers);
            let size = |round: &Round| match round {
                Round::Apply { jobs, .. } => jobs.len(),
                Round::Finish { leaves, .. } => leaves.len(),
            };
            assert!(parts.rounds.iter().all(|round| (1..=most).contains(&size(round))));
            let flat = |schedule: &Schedule| -> Vec<String> {
                let one = |round: &Round| -> Vec<String> {
                    match round {
                        Round::Apply { depth, run, jobs } => {
                            jobs.iter().map(|job| format!("{depth} {run:?} {job:?}")).collect()
                        }
                        Round::Finish { depth, run, leaves } => {
                            leaves.iter().map(|leaf| format!("{depth} {run:?} {leaf:?}")).collect()
                        }
                    }
                };
                schedule.rounds.iter().flat_map(one).collect()
            };
            assert_eq!(flat(&parts), flat(&whole));
        }
    }
}
