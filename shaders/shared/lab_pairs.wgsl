// CIEDE2000 of pairs of colours given in L*a*b*, for checks against published tables.

struct Settings {
    none: u32,
}

struct Job {
    first: vec4f,
    second: vec4f,
}

@group(0) @binding(0) var picture: texture_2d_array<f32>;
@group(0) @binding(1) var<uniform> settings: Settings;
@group(0) @binding(2) var<storage, read_write> answers: array<f32>;
@group(0) @binding(3) var<storage, read> jobs: array<Job>;

@compute @workgroup_size(1)
fn lab_pairs_main(@builtin(global_invocation_id) id: vec3u) {
    answers[id.z] = ciede2000(jobs[id.z].first.xyz, jobs[id.z].second.xyz);
}
