-- Every revision that was done, whoever did the primary and whether it is known here or not: what questions on what was
-- done count. Two stages are one revision, dated at the first, as in revision_episodes. Revisions of joints that are
-- followed come from there. Those without a primary here, and those after the end of what is complete for their joint,
-- come from their records by the same rules: the leading reason is the one marked, else the first of the hierarchy, and
-- a second stage belongs to the latest first stage of the same joint within twelve months before. Hospital, region and
-- surgeon are those of the revision; reason, action and extras too; everything else is the primary's, as in follow_up.
--
-- grain:    operation_id
-- reads:    follow_up, revision_episodes, links, operations, revision_reasons, hospitals
-- columns:  operation_id       varchar  operation record of the revision, or of its first stage
--           joint_no           integer  the joint; null where the revision has no primary
--           joint_id           varchar  the same
--           joint              any      knee, hip or shoulder
--           side               any      left or right
--           sex                any      sex of the patient
--           class              any      class of the primary, like those that follow
--           compartment        any      compartment of a partial knee
--           bearing            any      mobility of the bearing
--           constraint_design  any      constraint design
--           bearing_couple     any      what slides on what
--           head_size          utinyint  diameter of the head, mm
--           humeral_design     any      humeral design
--           construct          any      the components that name the joint
--           fixation           any      how the components are held to bone
--           patella            any      patella at the primary
--           approach           any      surgical approach at the primary
--           technology         any      technology assistance at the primary
--           prophylaxis        any      thromboprophylaxis at the primary
--           diagnosis          any      diagnosis at the primary
--           age                utinyint  completed years at the primary
--           asa                any      ASA class at the primary
--           bmi                decimal(4,1)  body mass index at the primary
--           surgeon_volume     smallint  volume of the primary's surgeon
--           implanted_date     date     date of the primary
--           ended              any      how the joint's follow-up ended
--           hospital_id        any      hospital of the revision
--           region             any      its region
--           surgeon_id         any      responsible surgeon of the revision
--           done_date          date     date of the revision
--           revision_date      date     the same, for filters
--           day                bigint   days from the primary
--           stage              any      single, or which of two stages
--           reason_group       any      group of the leading reason
--           reason             any      leading reason in detail
--           action             any      what was done
--           stem_used          boolean  a stem was used
--           augment_used       boolean  an augment was used
--           graft_used         boolean  bone graft was used
--           is_linked          boolean  it has a primary here
--           sequence           bigint   1 for the first revision of the joint; null where it has no primary
--           is_counted         boolean  it ended its joint's follow-up, so it is the event of risks and rates
--           is_uncounted       boolean  it has a primary here, and came after the end of what is complete for its joint
--           stages             bigint   operations that it took
with

recorded as (
    select
        operations.operation_id,
        operations.patient_id,
        operations.joint,
        operations.side,
        operations.sex,
        operations.operation_date,
        operations.hospital_id,
        operations.surgeon_id,
        operations.stage,
        operations.action,
        operations.stem_used,
        operations.augment_used,
        operations.graft_used,
        links.primary_operation_id,
        coalesce(
            links.primary_operation_id,
            operations.patient_id || ' ' || operations.joint::varchar || ' ' || operations.side::varchar
        ) as chain
    from links
    inner join operations on operations.operation_id = links.operation_id
),

in_order as (
    select *, row_number() over (partition by chain order by operation_date, operation_id) as order_no
    from recorded
),

firsts as (
    select latter.operation_id, arg_max(former.operation_id, former.order_no) as first_id
    from in_order as latter
    inner join in_order as former on former.chain = latter.chain and former.order_no < latter.order_no
    where latter.stage = 'second of two' and former.stage = 'first of two'
        and latter.operation_date <= former.operation_date + interval 12 month
    group by latter.operation_id
),

staged as (
    select in_order.*, coalesce(firsts.first_id, in_order.operation_id) as episode_id
    from in_order
    left join firsts on firsts.operation_id = in_order.operation_id
),

stages as (
    select
        episode_id,
        count(*) as stages,
        bool_or(coalesce(stem_used, false)) as stem_used,
        bool_or(coalesce(augment_used, false)) as augment_used,
        bool_or(coalesce(graft_used, false)) as graft_used
    from staged
    group by episode_id
),

begun as (
    select *, row_number() over (partition by chain order by order_no) as episode_no
    from staged
    where episode_id = operation_id
),

ranked as (
    select
        revision_reasons.operation_id,
        min(list_position($ranked, begun.joint::varchar || ' ' || revision_reasons.reason::varchar)) as first_rank,
        min(list_position($ranked, begun.joint::varchar || ' ' || revision_reasons.reason::varchar))
            filter (where revision_reasons.leads) as marked_rank
    from revision_reasons
    inner join begun on begun.operation_id = revision_reasons.operation_id
    group by revision_reasons.operation_id
),

-- What is in no episode of a joint that is followed.
others as (
    select
        begun.operation_id,
        follow_up.joint_no,
        begun.joint,
        begun.side,
        begun.sex,
        begun.hospital_id,
        begun.surgeon_id,
        begun.operation_date as done_date,
        begun.operation_date - follow_up.implanted_date as day,
        coalesce(begun.stage, 'single') as stage,
        coalesce($groups[coalesce(ranked.marked_rank, ranked.first_rank)], 'not recorded') as reason_group,
        $details[coalesce(ranked.marked_rank, ranked.first_rank)] as reason,
        coalesce(begun.action, 'not recorded') as action,
        stages.stem_used,
        stages.augment_used,
        stages.graft_used,
        follow_up.joint_no is not null as is_linked,
        case when follow_up.joint_no is not null then begun.episode_no end as sequence,
        follow_up.joint_no is not null as is_uncounted,
        stages.stages
    from begun
    inner join stages on stages.episode_id = begun.operation_id
    left join follow_up on follow_up.operation_id = begun.primary_operation_id
    left join ranked on ranked.operation_id = begun.operation_id
    anti join revision_episodes on revision_episodes.operation_id = begun.operation_id
),

done as (
    select * from others
    union all by name
    select
        revision_episodes.operation_id,
        revision_episodes.joint_no,
        revision_episodes.hospital_id,
        revision_episodes.surgeon_id,
        revision_episodes.revision_date as done_date,
        revision_episodes.day,
        revision_episodes.stage,
        revision_episodes.reason_group::varchar as reason_group,
        revision_episodes.reason::varchar as reason,
        revision_episodes.action,
        revision_episodes.stem_used,
        revision_episodes.augment_used,
        revision_episodes.graft_used,
        true as is_linked,
        false as is_uncounted,
        revision_episodes.sequence::bigint as sequence,
        coalesce(stages.stages, 1 + (revision_episodes.reimplanted_day is not null)::bigint) as stages
    from revision_episodes
    left join stages on stages.episode_id = revision_episodes.operation_id
)

select
    done.operation_id,
    done.joint_no,
    follow_up.joint_id,
    coalesce(follow_up.joint, done.joint) as joint,
    coalesce(follow_up.side, done.side) as side,
    coalesce(follow_up.sex, done.sex) as sex,
    follow_up.class,
    follow_up.compartment,
    follow_up.bearing,
    follow_up.constraint_design,
    follow_up.bearing_couple,
    follow_up.head_size,
    follow_up.humeral_design,
    follow_up.construct,
    follow_up.fixation,
    follow_up.patella,
    follow_up.approach,
    follow_up.technology,
    follow_up.prophylaxis,
    follow_up.diagnosis,
    follow_up.age,
    follow_up.asa,
    follow_up.bmi,
    follow_up.surgeon_volume,
    follow_up.implanted_date,
    follow_up.ended,
    done.hospital_id,
    coalesce(try_cast(hospitals.region as region_codes), try_cast('not recorded' as region_codes)) as region,
    done.surgeon_id,
    done.done_date,
    done.done_date as revision_date,
    done.day,
    try_cast(done.stage as stage_words) as stage,
    try_cast(done.reason_group as reason_group_words) as reason_group,
    try_cast(done.reason as reason_words) as reason,
    try_cast(done.action as action_words) as action,
    done.stem_used,
    done.augment_used,
    done.graft_used,
    done.is_linked,
    done.sequence,
    coalesce(follow_up.revision_operation_id = done.operation_id, false) as is_counted,
    done.is_uncounted,
    done.stages
from done
left join follow_up on follow_up.joint_no = done.joint_no
left join hospitals on hospitals.hospital_id = done.hospital_id::varchar
